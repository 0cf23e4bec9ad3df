using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Storage;

public class SleepTests
{
    private readonly FakeTimeProvider _time = new();

    [Fact]
    public async Task It_ends_when_its_time_is_over_and_not_before()
    {
        using var sleep = new Sleep(_time);
        for (var i = 0; i < 3; i++)
        {
            sleep.WakeAfter(TimeSpan.FromMilliseconds(4.2));
            var sleeping = sleep.UntilWokenAsync().AsTask();
            _time.Advance(TimeSpan.FromMilliseconds(4.9));
            Assert.False(sleeping.IsCompleted);
            _time.Advance(TimeSpan.FromMilliseconds(0.1)); // whole milliseconds
            await sleeping.WaitAsync(TimeSpan.FromSeconds(20));
        }
    }

    [Fact]
    public async Task It_ends_when_somebody_wakes_once_or_many_times_before_or_meanwhile()
    {
        using var sleep = new Sleep(_time);
        sleep.Wake();
        sleep.Wake();
        await sleep.UntilWokenAsync().AsTask().WaitAsync(TimeSpan.FromSeconds(20));

        sleep.WakeAfter(TimeSpan.FromHours(1));
        sleep.WakeAfter(null);
        var sleeping = sleep.UntilWokenAsync().AsTask();
        _time.Advance(TimeSpan.FromDays(1));
        Assert.False(sleeping.IsCompleted);
        sleep.Wake();
        await sleeping.WaitAsync(TimeSpan.FromSeconds(20));
    }
}
