using System.Text;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

public class AttendedRecordingTests
{
    [Fact]
    public void Two_years_of_a_tube_are_the_same_every_time_and_begin_with_the_tube()
    {
        var scenario = new TubeLifeScenario();

        var first = Write(scenario, 12_000);

        Assert.Equal(first, Write(new TubeLifeScenario(), 12_000));
        Assert.Contains("service,machine=bay1 part=\"tube\",action=\"installed\",serial=\"T-000001\"", Encoding.UTF8.GetString(first), StringComparison.Ordinal);
        Assert.Equal((new DateTime(2024, 3, 4), new DateTime(2026, 2, 27)), (scenario.Shifts[0].On.ToDateTimeOffset().Date, scenario.Shifts[^1].On.ToDateTimeOffset().Date));
    }

    [Fact]
    public void An_alarm_is_acknowledged_by_a_person_within_the_machines_time()
    {
        var scenario = new TubeLifeScenario();
        var kink = scenario.MachineOptions.Faults.Single(fault => fault.Kind == FaultKind.HoseKink);
        var shifts = scenario.Shifts.Where(shift => shift.On > kink.From - TimeSpan.FromDays(1) && shift.On < kink.Until);
        using var bytes = new MemoryStream();
        AttendedRecording.Write(bytes, TubeLifeScenario.Machine, scenario.Jobs, new SimulatedMachine(scenario.MachineOptions).Run(shifts));

        using var reader = new RecordingReader(new MemoryStream(bytes.ToArray()), new ChannelTable());
        List<(string Condition, string State, string? By)> told = [];
        while (reader.Read() is { } e)
        {
            if (e.Alarm is { } alarm)
                told.Add((alarm.Condition, Alarms.AlarmNames.Name(alarm.State), alarm.By));
        }

        Assert.Contains(("air-pressure-low", "unacknowledged", null), told);
        Assert.Contains(("air-pressure-low", "acknowledged", "ana"), told);
        Assert.Equal(0, reader.Counts.Unread);
    }

    private static byte[] Write(TubeLifeScenario scenario, int moments)
    {
        using var bytes = new MemoryStream();
        AttendedRecording.Write(bytes, TubeLifeScenario.Machine, scenario.Jobs, scenario.Moments().Take(moments));
        return bytes.ToArray();
    }
}
