using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Jobs;

/// <summary>Runs that nobody announces, matched to their records.</summary>
public class RunMatchTests
{
    [Fact]
    public void A_pressure_that_is_wrong_from_the_start_does_not_hide_the_job_it_is_wrong_for()
    {
        var scene = new Scene();
        for (var run = 0; run < 3; run++)
            CutAndRest(scene, pressure: 210);
        Assert.Empty(scene.Changes);

        CutAndRest(scene, pressure: 150);

        Assert.Equal(Scene.Job, Assert.Single(scene.Raised(Conditions.AirPressureLow)).Job);
    }

    [Fact]
    public void No_air_at_all_is_told_to_a_machine_that_has_shown_how_it_cuts()
    {
        var scene = new Scene();
        for (var run = 0; run < 3; run++)
            CutAndRest(scene, pressure: 210);

        CutAndRest(scene, pressure: 0);

        Assert.Single(scene.Raised(Conditions.AirPressureLost));
    }

    [Fact]
    public void The_first_run_of_all_is_not_held_against_a_record_it_does_not_fit()
    {
        var scene = new Scene();

        CutAndRest(scene, pressure: 150);

        Assert.Empty(scene.Changes);
    }

    [Fact]
    public void A_shop_that_cuts_other_things_at_the_same_power_is_left_alone()
    {
        var scene = new Scene();
        for (var run = 0; run < 12; run++)
            CutAndRest(scene, pressure: run % 3 == 0 ? 210 : 120);

        Assert.Empty(scene.Changes);
    }

    private static void CutAndRest(Scene scene, double pressure)
    {
        scene.Cut(Scene.Hold(pressure, 90));
        for (var t = 0; t < 90; t++)
            scene.Say(1, new(Channel.Lasing, 0), new(Channel.Power, 66), new(Channel.AirPressure, 0));
    }
}
