using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public class DoorOpenWhileLasingTests
{
    private static readonly Channel Door = new ChannelTable().Declare("door", "1");

    private readonly Scene _scene = new();

    [Fact]
    public void An_open_door_with_the_beam_on_is_told_after_a_second()
    {
        Hold(5, lasing: 1, door: 0);
        Hold(3, lasing: 1, door: 1);

        var raised = Assert.Single(_scene.Raised(Conditions.DoorOpenWhileLasing));
        Assert.Equal((AlarmPriority.High, Scene.Start + TimeSpan.FromSeconds(6)), (raised.Priority, raised.Time));
        Assert.Contains("no interlock", raised.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void An_open_door_without_beam_and_a_beam_behind_a_shut_door_are_nothing()
    {
        Hold(60, lasing: 0, door: 1);
        Hold(60, lasing: 1, door: 0);

        Assert.Empty(_scene.Raised(Conditions.DoorOpenWhileLasing));
    }

    [Fact]
    public void A_single_sample_of_an_open_door_is_nothing()
    {
        Hold(5, lasing: 1, door: 0);
        Hold(1, lasing: 1, door: 1);
        Hold(5, lasing: 1, door: 0);

        Assert.Empty(_scene.Raised(Conditions.DoorOpenWhileLasing));
    }

    [Fact]
    public void It_is_over_five_seconds_after_the_door_is_shut()
    {
        Hold(5, lasing: 1, door: 1);
        Hold(10, lasing: 1, door: 0);

        Assert.Equal(AlarmState.ReturnedUnacknowledged, _scene.Changes[^1].State);
    }

    [Fact]
    public void Where_no_door_is_heard_it_says_what_it_lacks()
    {
        _scene.Say(1, new ChannelValue(Channel.Lasing, 1));

        Assert.Contains("door: never heard", _scene.Watch.Status.Rules.Single(r => r.Rule == Conditions.DoorOpenWhileLasing).Lacks);
    }

    private void Hold(int seconds, double lasing, double door)
    {
        for (var second = 0; second < seconds; second++)
            _scene.Say(1, new(Channel.Lasing, lasing), new(Door, door));
    }
}
