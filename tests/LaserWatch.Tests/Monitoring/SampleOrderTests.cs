using CsCheck;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>The order of a machine's samples, against a list that is sorted anew each time.</summary>
public class SampleOrderTests
{
    private const int Channels = Channel.CanonicalCount + 2;
    private static readonly Channel[] AllChannels = WithTwoOthers(new ChannelTable());
    private static readonly int[] InOrder =
        [CanonicalIndex.Lasing, CanonicalIndex.Power, .. Enumerable.Range(0, Channel.CanonicalCount).Except([CanonicalIndex.Lasing, CanonicalIndex.Power])];

    private static readonly Instant Morning = Instant.From(new DateTimeOffset(2026, 3, 2, 8, 0, 0, TimeSpan.Zero));

    [Fact]
    public void Samples_come_out_as_a_sorted_list_gives_them()
    {
        var gen = Gen.Select(Gen.Int[0, Channels - 1], Gen.Frequency((6, Gen.Const(0)), (3, Gen.Int[1, 3]), (2, Gen.Int[-14, 9])), Gen.Int[0, 40]).Array[1, 250];
        gen.Sample(
            steps =>
            {
                var (order, plain) = (new SampleOrder(), new PlainOrder());
                var half = 0;
                for (var i = 0; i < steps.Length; i++)
                {
                    var (channel, moved, chance) = steps[i];
                    half += moved;
                    var at = Morning + TimeSpan.FromMilliseconds(500 * half);
                    Assert.Equal(plain.Admit(channel, at, i), order.Admit(channel, at, i));
                    if (chance < 10)
                        Assert.Equal(plain.Release(all: chance == 0), Release(order, all: chance == 0));
                    if (chance == 40)
                    {
                        order = Restored(order);
                        plain.ForgetOthers();
                    }
                }

                Assert.Equal(plain.Newest, order.Newest);
                Assert.Equal(plain.Release(all: true), Release(order, all: true));
            },
            iter: 3000);
    }

    /// <summary>Groups of some channels, mostly newer than all before them, with channels that are not canonical and twins among them.</summary>
    [Fact]
    public void Samples_admitted_together_stand_as_if_they_had_come_one_by_one()
    {
        var gen = Gen.Select(Gen.Int[0, Channels - 1].Array[1, 9], Gen.Frequency((12, Gen.Int[1, 4]), (2, Gen.Int[-14, 0]), (1, Gen.Const(30))), Gen.Int[0, 40]).Array[1, 80];
        var together = 0;
        gen.Sample(
            groups =>
            {
                var (order, singly) = (new SampleOrder(), new SampleOrder());
                var half = 0;
                foreach (var (channels, moved, chance) in groups)
                {
                    half += moved;
                    var at = Morning + TimeSpan.FromMilliseconds(500 * half);
                    var values = channels.Select((channel, i) => new ChannelValue(AllChannels[channel], i)).ToArray();
                    var admitted = values.Select(value => singly.Admit(value.Channel.Index, at, value.Value)).ToList();
                    if (!order.TryAdmit(at, values))
                    {
                        Assert.Equal(admitted, values.Select(value => order.Admit(value.Channel.Index, at, value.Value)));
                    }
                    else
                    {
                        Assert.All(admitted, admission => Assert.Equal(Admission.Fresh, admission));
                        together++;
                    }

                    Assert.Equal(singly.Newest, order.Newest);
                    if (chance == 40)
                        Assert.Equal(StateVisitor.Save(singly.Visit), StateVisitor.Save(order.Visit));
                    if (chance == 39)
                        (order, singly) = (Restored(order), Restored(singly));
                    if (chance < 10)
                        Assert.Equal(Release(singly, all: chance == 0), Release(order, all: chance == 0));
                }

                Assert.Equal(StateVisitor.Save(singly.Visit), StateVisitor.Save(order.Visit));
            },
            iter: 2000, threads: 1);
        Assert.True(together > 10_000, $"{together} groups are too few to show anything");
    }

    /// <summary>A clock that was set back is believed after 300 samples; nothing is admitted together before what it had said has passed.</summary>
    [Fact]
    public void After_a_clock_was_set_back_the_order_is_the_same_too()
    {
        var (order, singly) = (new SampleOrder(), new SampleOrder());
        ChannelValue[] row = [new(Channel.TubeCurrent, 18), new(Channel.Power, 66), new(Channel.Lasing, 1)];
        var starts = new[] { Morning, Morning - TimeSpan.FromHours(1) };
        foreach (var start in starts)
        {
            for (var second = 0; second < 5000; second++)
            {
                var at = start + TimeSpan.FromSeconds(second);
                var admitted = row.Select(value => singly.Admit(value.Channel.Index, at, value.Value)).ToList();
                if (order.TryAdmit(at, row))
                    Assert.All(admitted, admission => Assert.Equal(Admission.Fresh, admission));
                else
                    Assert.Equal(admitted, row.Select(value => order.Admit(value.Channel.Index, at, value.Value)));
                Assert.Equal(Release(singly, all: false), Release(order, all: false));
            }
        }

        Assert.Equal(StateVisitor.Save(singly.Visit), StateVisitor.Save(order.Visit));
    }

    private static List<(int Channel, Instant At, double? Value)> Release(SampleOrder order, bool all)
    {
        List<(int, Instant, double?)> released = [];
        for (var due = order.Release(all); due.Length > 0; due = order.Release(all))
        {
            foreach (ref readonly var held in due)
            {
                foreach (var channel in InOrder)
                {
                    if ((held.Channels & (1u << channel)) != 0)
                        released.Add((channel, held.At, ValueOf(held, channel)));
                }
            }
        }

        return released;
    }

    private static double? ValueOf(in HeldRow held, int channel) => channel switch
    {
        CanonicalIndex.Lasing => held.Lasing,
        CanonicalIndex.Power => held.Power,
        CanonicalIndex.TubeCurrent => held.TubeCurrent,
        CanonicalIndex.CoolantIn => held.CoolantIn,
        _ => null,
    };

    private static Channel[] WithTwoOthers(ChannelTable table) => [.. Channel.Canonical, table.Declare("door", "1"), table.Declare("exhaust", "Pa")];

    private static SampleOrder Restored(SampleOrder order)
    {
        var restored = new SampleOrder();
        Assert.True(StateVisitor.TryLoad(StateVisitor.Save(order.Visit), restored.Visit));
        return restored;
    }

    private sealed class PlainOrder
    {
        private readonly Instant?[] _newest = new Instant?[Channels];
        private readonly List<(int Channel, Instant At, double? Value)> _held = [];
        private Instant _releasedTo = Instant.MinValue;

        public Instant? Newest { get; private set; }

        // What is not canonical is not saved, and met anew.
        public void ForgetOthers() => Array.Clear(_newest, Channel.CanonicalCount, Channels - Channel.CanonicalCount);

        public Admission Admit(int channel, Instant at, double value)
        {
            var newest = _newest[channel];
            if (newest is null || at > newest)
            {
                _newest[channel] = at;
                Newest = Newest is { } latest && latest > at ? latest : at;
                Hold(channel, at, value);
                return Admission.Fresh;
            }

            if (at == newest || (newest - at <= SampleOrder.Window && _held.Exists(h => h.Channel == channel && h.At == at)))
                return Admission.Duplicate;
            if (newest - at > SampleOrder.Window)
                return Admission.TooLate;
            Hold(channel, at, value);
            return Admission.Late;
        }

        public List<(int Channel, Instant At, double? Value)> Release(bool all)
        {
            var released = _held.FindAll(h => all || Newest - h.At >= SampleOrder.Window);
            _held.RemoveAll(h => all || Newest - h.At >= SampleOrder.Window);
            _releasedTo = released.Select(h => h.At).Append(_releasedTo).Max();
            return released;
        }

        private void Hold(int channel, Instant at, double value)
        {
            if (channel >= Channel.CanonicalCount || at < _releasedTo)
                return;
            _held.Add((channel, at, (HeldRow.Kept & (1u << channel)) != 0 ? value : null));
            var sorted = _held.OrderBy(h => h.At).ThenBy(h => Array.IndexOf(InOrder, h.Channel)).ToList();
            _held.Clear();
            _held.AddRange(sorted);
        }
    }
}
