using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

public class DemoScenarioTests
{
    private static readonly Instant Now = Instant.From(new DateTimeOffset(2026, 3, 9, 7, 30, 0, TimeSpan.Zero));

    private static readonly string[] Expected = [Conditions.AirPressureLow, Conditions.CoolantTimeToLimit, Conditions.TubeCurrentSag];

    [Fact]
    public async Task Each_part_raises_its_alarm_and_nothing_else_is_raised()
    {
        var scenario = new DemoScenario(Now);
        List<AlarmChange> raised = [];
        using var reader = new RecordingReader(
            SimulatedRecording.Open(DemoScenario.Machine, scenario.Jobs, scenario.Moments()), new ChannelTable());
        await new Replay(reader, new Shop(_ => MonitorOptions.Default, new JobBook()), change =>
        {
            if (change.State == AlarmState.Unacknowledged && raised.All(r => r.Condition != change.Condition))
                raised.Add(change);
        }).RunAsync(null, null, CancellationToken.None);

        Assert.Equal(Expected, raised.Select(change => change.Condition));
        Assert.Equal([0, 1, 2], raised.Select(change => scenario.Parts.Count(part => part.From <= change.Time) - 1));
        Assert.All(raised, change => Assert.NotEmpty(change.Checks));
    }

    [Fact]
    public void All_of_it_lies_in_the_past_and_within_what_the_demonstrations_agent_believes()
    {
        var scenario = new DemoScenario(Now);
        var times = scenario.Moments().Select(moment => moment.At).ToArray();

        Assert.Equal(times.Order(), times);
        Assert.InRange(Now.SecondsSince(times[^1]), 1, 300);
        Assert.InRange(Now.SecondsSince(times[0]), 0, 30 * 86_400);
    }

    [Fact]
    public void It_is_over_within_a_minute()
    {
        var scenario = new DemoScenario(Now);
        var took = 0.0;
        foreach (var shift in scenario.Shifts)
        {
            for (var at = shift.On; at < shift.Off; at += TimeSpan.FromSeconds(1))
                took += 1 / scenario.Parts.Last(part => part.From <= at).Speed;
        }

        Assert.InRange(took, 30, 58);
    }

    [Fact]
    public async Task Over_a_real_broker_the_agent_raises_the_same_alarms_and_leaves_nothing_behind()
    {
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(120));
        var scenario = new DemoScenario(Instant.From(TimeProvider.System.GetUtcNow()), haste: 20);
        List<string> raised = [];
        string folder;
        await using (var agent = new DemoAgent(scenario))
        {
            folder = Path.GetDirectoryName(agent.Options.Store.Path)!;
            await using var line = await agent.StartAsync(patience.Token);
            await new DemoSensors(line, scenario, TimeProvider.System).RunAsync(_ => { }, patience.Token);
            while (raised.Distinct().Count() < Expected.Length)
            {
                var (_, payload) = await line.Heard.ReadAsync(patience.Token);
                Assert.True(AlarmJson.TryRead(payload, out var change, out var mistake), mistake);
                if (change!.State == AlarmState.Unacknowledged)
                    raised.Add(change.Condition);
            }

            await agent.StopAsync(patience.Token);
            Assert.Null(agent.Failure);
        }

        Assert.Equal(Expected, raised.Distinct());
        Assert.False(Directory.Exists(folder));
    }
}
