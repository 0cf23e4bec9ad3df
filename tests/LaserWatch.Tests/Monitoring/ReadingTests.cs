using CsCheck;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>The reading, which keeps what is known and at fault in bits, against plain arrays.</summary>
public class ReadingTests
{
    private static readonly Instant Morning = Instant.From(new DateTimeOffset(2026, 3, 2, 8, 0, 0, TimeSpan.Zero));

    [Fact]
    public void It_says_what_arrays_of_values_and_faults_say()
    {
        var table = new ChannelTable();
        Channel[] channels = [.. Channel.Canonical, Other(table, "door"), Other(table, "smoke")];
        var gen = Gen.Select(Gen.Int[0, channels.Length - 1], Gen.Int[0, 5], Gen.Double[-100, 100]).Array[1, 80];
        gen.Sample(
            steps =>
            {
                var reading = new Reading();
                var (known, values, faults) = (new Instant?[channels.Length], new double[channels.Length], new ChannelFault[channels.Length]);
                for (var i = 0; i < steps.Length; i++)
                {
                    var (place, act, value) = steps[i];
                    reading.At = Morning + TimeSpan.FromTicks(7 * i);
                    if (place >= Channel.CanonicalCount)
                        reading.SetOther(channels[place], reading.At, value);
                    else if (act < 4)
                        reading.SetFault(place, faults[place] = (ChannelFault)act);
                    else
                        reading.Set(place, reading.At, value);
                    if (place >= Channel.CanonicalCount || act >= 4)
                        (known[place], values[place]) = (reading.At, value);
                }

                Assert.Equal(faults.Count(f => f != ChannelFault.None), reading.Faults);
                Assert.Equal(reading.Faults > 0, reading.AnyFault);
                for (var i = 0; i < channels.Length; i++)
                {
                    var good = known[i] is not null && faults[i] == ChannelFault.None;
                    Assert.Equal((known[i] is not null, good, values[i], known[i] ?? default, faults[i]), (reading.Knows(channels[i]), reading.Has(channels[i]), reading[channels[i]], reading.TimeOf(channels[i]), reading.FaultOf(channels[i])));
                    for (var ticks = 0; ticks < 30; ticks++)
                        Assert.Equal(good && reading.At - known[i]!.Value <= TimeSpan.FromTicks(ticks), reading.Has(channels[i], TimeSpan.FromTicks(ticks)));
                }
            },
            iter: 1000);
    }

    private static Channel Other(ChannelTable table, string name)
    {
        Assert.True(table.TryGet(name, out var channel));
        return channel;
    }
}
