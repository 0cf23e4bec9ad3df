using LaserWatch.Telemetry;

namespace LaserWatch.Models;

public class RestCurrentTests
{
    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    [Fact]
    public void A_zero_that_moved_is_told_with_its_error()
    {
        var rest = new RestCurrent();
        Rest(rest, from: 0, seconds: 400, _ => 0.1);
        Rest(rest, from: 1000, seconds: 400, t => -1.4 + (0.05 * (t % 2)));

        var (shift, error) = rest.Shift!.Value;

        Assert.InRange(shift, -1.55, -1.40);
        Assert.InRange(error, 0, 0.1);
    }

    [Fact]
    public void Currents_with_the_beam_on_and_shortly_after_say_nothing()
    {
        var rest = new RestCurrent();
        for (var t = 0; t < 2000; t++)
        {
            var at = Start + TimeSpan.FromSeconds(t);
            rest.FollowBeam(t % 10 < 6, at);
            rest.Take(18, at);
        }

        Assert.Null(rest.Shift);
    }

    private static void Rest(RestCurrent rest, int from, int seconds, Func<int, double> milliamps)
    {
        rest.FollowBeam(true, Start + TimeSpan.FromSeconds(from));
        rest.FollowBeam(false, Start + TimeSpan.FromSeconds(from + 1));
        for (var t = 0; t < seconds; t++)
            rest.Take(milliamps(t), Start + TimeSpan.FromSeconds(from + 2 + t));
    }
}
