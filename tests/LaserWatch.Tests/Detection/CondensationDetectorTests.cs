using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>The rule, which works the dew point out only where the coolant is near it, against one that always does.</summary>
public class CondensationDetectorTests
{
    private static readonly Instant Morning = Instant.From(new DateTimeOffset(2026, 3, 2, 8, 0, 0, TimeSpan.Zero));

    [Fact]
    public void A_coolant_clear_of_a_damper_room_is_clear_of_this_one()
    {
        var options = new CoolantOptions { DewPointOnDelaySeconds = 20, OffDelaySeconds = 20 };
        var gen = Gen.Select(
            Gen.Double[-40, 60], Gen.Double[1, 102], Gen.Double[-3, 6],
            Gen.Select(Gen.Double[-0.8, 0.8], Gen.Double[-3, 3], Gen.Double[-1, 1], Gen.Int[1, 15]).Array[1, 200]);
        var (breaches, clear) = (0, 0);
        gen.Sample(
            (room, humidity, above, steps) =>
            {
                var detector = new CondensationRisk(options);
                var plain = default(DelayedSwitch);
                var reading = new Reading();
                var at = Morning;
                var coolant = DewPoint.FromRelativeHumidity(room, humidity) + above;
                foreach (var (warmer, damper, further, seconds) in steps)
                {
                    at += TimeSpan.FromSeconds(seconds);
                    (room, humidity, coolant) = (room + warmer, Math.Clamp(humidity + damper, 0.1, 102), coolant + further);
                    reading.At = at;
                    reading.Set(CanonicalIndex.AmbientTemperature, at, room);
                    reading.Set(CanonicalIndex.AmbientHumidity, at, humidity);
                    reading.Set(CanonicalIndex.CoolantIn, at, coolant);

                    var limit = DewPoint.FromRelativeHumidity(room, humidity) + options.DewPointMarginKelvins;
                    var on = plain.Update(coolant < limit, coolant > limit + options.DeadbandKelvins, at, options.DewPointOnDelaySeconds, options.OffDelaySeconds);
                    Assert.Equal(new Verdict(on ? Judgement.Breach : Judgement.Normal, coolant, limit), detector.Update(reading));
                    if (on)
                        Interlocked.Increment(ref breaches);
                    else
                        Interlocked.Increment(ref clear);
                }
            },
            iter: 500);
        Assert.True(breaches > 1000 && clear > 1000, $"{breaches} breaches and {clear} others are too few to show anything");
    }
}
