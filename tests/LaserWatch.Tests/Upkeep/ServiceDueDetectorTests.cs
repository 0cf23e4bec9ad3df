using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Upkeep;

public class ServiceDueDetectorTests
{
    [Fact]
    public void Nothing_is_due_where_nothing_is_configured()
    {
        var scene = new Scene();
        Days(scene, 400, beamHoursPerDay: 1);

        Assert.Empty(scene.Raised(Conditions.ServiceDue));
    }

    [Fact]
    public void Due_by_beam_hours_and_gone_at_once_when_the_work_is_logged()
    {
        var scene = Watched(new ServiceInterval { Part = "lens", BeamHours = 20 });
        Log(scene, "lens", "cleaned");
        Days(scene, 19, beamHoursPerDay: 1);
        Assert.Empty(scene.Changes);

        Days(scene, 2, beamHoursPerDay: 1);
        var due = Assert.Single(scene.Raised(Conditions.ServiceDue));
        Assert.Equal((AlarmPriority.Low, 20.0, "h", "work is due at: lens"), (due.Priority, due.Limit!.Value, due.Unit, due.Message));
        Assert.InRange(due.Value!.Value, 20, 20.02);
        Assert.Equal("lens", Assert.Single(due.Evidence).Name);
        Assert.NotEmpty(due.Checks);

        Log(scene, "lens", "cleaned");
        Assert.Equal(AlarmState.ReturnedUnacknowledged, scene.Changes[^1].State);
        Assert.DoesNotContain(scene.Watch.Standing, a => a.State == AlarmState.Unacknowledged);
    }

    [Fact]
    public void Due_by_days_whatever_was_cut()
    {
        var scene = Watched(new ServiceInterval { Part = "coolant", Actions = ["replaced"], BeamHours = 1000, Days = 30 });
        Log(scene, "coolant", "replaced");
        Days(scene, 15, 0);
        Log(scene, "coolant", "topped-up");
        Days(scene, 16, 0);

        var due = Assert.Single(scene.Raised(Conditions.ServiceDue));
        Assert.Equal((30.0, "d"), (due.Limit!.Value, due.Unit));
        Assert.InRange(due.Value!.Value, 30, 30.1);
    }

    [Fact]
    public void Work_never_logged_counts_from_the_first_sample_and_the_words_say_so()
    {
        var scene = Watched(new ServiceInterval { Part = "nozzle", Days = 2 });
        Days(scene, 3, 1);

        var due = Assert.Single(scene.Raised(Conditions.ServiceDue));
        Assert.Contains("never logged", due.Evidence[0].Text, StringComparison.Ordinal);
    }

    [Fact]
    public void The_alarm_is_told_anew_when_the_list_of_what_is_due_changes()
    {
        var scene = Watched(new ServiceInterval { Part = "lens", Days = 2 }, new ServiceInterval { Part = "mirror", Days = 4 });
        Days(scene, 5, 0);
        Log(scene, "lens", "cleaned");

        Assert.Equal(
            ["work is due at: lens", "work is due at: lens, mirror", "work is due at: mirror"],
            scene.Changes.Where(c => c.Condition == Conditions.ServiceDue).Select(c => c.Message));
    }

    private static Scene Watched(params ServiceInterval[] intervals) =>
        new(MonitorOptions.Default with { Upkeep = new UpkeepOptions { Intervals = intervals } });

    private static void Log(Scene scene, string part, string action) =>
        scene.Changes.AddRange(scene.Watch.Observe(new ServiceEvent("bay1", scene.Now, part, action, null, null, ServiceEvent.NoDetails)));

    private static void Days(Scene scene, int days, int beamHoursPerDay)
    {
        for (var day = 0; day < days; day++)
        {
            for (var minute = 0; minute < 24 * 60; minute++)
                scene.Say(60, new ChannelValue(Channel.Lasing, minute < 60 * beamHoursPerDay ? 1 : 0));
        }
    }
}
