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

        // What is outside the contract is not saved, and met anew.
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
