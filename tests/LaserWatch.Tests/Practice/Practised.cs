using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

/// <summary>Shipped cases, ready to be practised.</summary>
internal static class Practised
{
    public static PracticeSession Begin(string name) => Begin(ShippedCases.Open(name));

    public static PracticeSession Begin(TrainingCase its) => new(
        its, CausesFile.ReadBuiltIn(), its.ReadRecording(new ChannelTable()), new Shop(LaserWatchOptions.Default.RulesOf, new JobBook()));

    public static DoneAct Do(this PracticeSession session, PracticeActKind kind, string? on = null) => session.Do(new PracticeAct(kind, on));

    /// <summary>Lets time pass until an alarm waits that was raised since the fault began.</summary>
    public static void AdvanceToAnAlarm(this PracticeSession session)
    {
        while (!session.Changes.Skip(session.AlarmsBefore).Any(c => c.State == Alarms.AlarmState.Unacknowledged && c.Time >= session.Case.Began))
        {
            Assert.False(session.IsPlayedOut, "no alarm rises in this case");
            session.Advance(TimeSpan.FromSeconds(1));
        }
    }
}
