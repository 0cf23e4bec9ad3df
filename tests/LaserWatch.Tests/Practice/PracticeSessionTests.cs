using LaserWatch.Alarms;
using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Practice;

public class PracticeSessionTests
{
    public static TheoryData<string> All => [.. ShippedCases.Names];

    public static TheoryData<string> Faults => [.. ShippedCases.Names.Where(name => !ShippedCases.Open(name).IsNothingWrong)];

    public static TheoryData<string> Healthy => [.. ShippedCases.Names.Where(name => ShippedCases.Open(name).IsNothingWrong)];

    [Theory]
    [MemberData(nameof(All))]
    public async Task However_time_is_cut_the_alarms_are_those_of_a_replay(string name)
    {
        var its = ShippedCases.Open(name);
        List<AlarmChange> replayed = [];
        using var reader = its.ReadRecording(new ChannelTable());
        await new Replay(reader, new Shop(LaserWatchOptions.Default.RulesOf, new JobBook()), replayed.Add).RunAsync(null, null, CancellationToken.None);

        using var session = Practised.Begin(its);
        var cuts = new Random(7);
        while (!session.IsPlayedOut)
            session.Advance(TimeSpan.FromSeconds(cuts.NextDouble() * cuts.Next(1, 400)));

        Assert.Equal(replayed.Select(c => (c.Time, c.Condition, c.State, c.Message)), session.Changes.Select(c => (c.Time, c.Condition, c.State, c.Message)));
    }

    [Theory]
    [MemberData(nameof(Faults))]
    public void A_good_operator_finds_the_fault_with_the_case_s_own_checks(string name)
    {
        using var session = Practised.Begin(name);
        session.AdvanceToAnAlarm();
        var alarm = PracticeAnswers.Waiting(session)[0];
        session.Advance(TimeSpan.FromSeconds(10));

        Assert.Equal($"{alarm.Condition}: acknowledged.", session.Do(PracticeActKind.Acknowledge).Answer);
        Assert.Contains(session.Standing, a => a.Condition == alarm.Condition && a.State != AlarmState.Unacknowledged);
        session.Advance(TimeSpan.FromSeconds(20));
        var checks = session.Case.Checks.Select(check => session.Do(PracticeActKind.Check, check)).ToList();
        session.Do(PracticeActKind.NameCause, session.Case.Causes[0]);
        session.Do(PracticeActKind.Finish);

        var right = session.Model.FindCause(session.Case.Causes[0])!;
        Assert.Equal([.. session.Case.Checks.Select(check => check == right.Check)], checks.Select(c => c.Finds).ToArray());
        Assert.All(checks, c => Assert.Contains(c.Finds ? $"found: {right.What}." : "nothing found here.", c.Answer, StringComparison.Ordinal));
        var debrief = PracticeDebrief.Of(session);
        Assert.Equal(PracticeVerdict.Right, debrief.Verdict);
        Assert.Equal(PracticeActKind.Acknowledge, debrief.Noticed!.Act.Kind);
        Assert.Equal(session.Time.Between(debrief.From, debrief.Noticed.At), debrief.ToNotice);
        Assert.Equal(debrief.ToNotice + TimeSpan.FromSeconds(20), debrief.ToCause);
        Assert.Equal((0, 0, 0), (debrief.MinutesNotNeeded, debrief.FalseAcknowledgements, debrief.Missed.Count));
        Assert.Contains(debrief.Alarms, a => a.Alarm.Condition == alarm.Condition && !a.AfterTheEnd);
    }

    [Theory]
    [MemberData(nameof(Healthy))]
    public void Where_nothing_is_wrong_no_alarm_rises_and_every_acknowledgement_is_false(string name)
    {
        using var session = Practised.Begin(name);
        session.Advance(TimeSpan.FromMinutes(5));
        Assert.True(session.Do(PracticeActKind.Acknowledge).IsFalse);
        Assert.True(session.Do(PracticeActKind.Acknowledge, "air-pressure-low").IsFalse);
        session.Do(PracticeActKind.Check, "lens");
        session.Do(PracticeActKind.SayNothingIsWrong);
        session.Do(PracticeActKind.Finish);

        var debrief = PracticeDebrief.Of(session);

        Assert.Equal((PracticeVerdict.Right, 2, TimeSpan.FromMinutes(5)), (debrief.Verdict, debrief.FalseAcknowledgements, debrief.ToCause));
        Assert.Equal((0, 5), (debrief.MinutesNeeded, debrief.MinutesNotNeeded));
        Assert.Empty(debrief.Alarms);
        Assert.Empty(debrief.Departures);
        Assert.Null(debrief.Noticed);
    }

    [Fact]
    public void Before_it_began_no_check_finds_it_and_no_answer_is_right()
    {
        using var session = Practised.Begin("plywood-morning");
        session.Advance(TimeSpan.FromMinutes(2));

        Assert.False(session.Do(PracticeActKind.Check, "air-hose").Finds);
        session.Do(PracticeActKind.NameCause, "air-hose-kink");
        session.Do(PracticeActKind.Finish);

        var debrief = PracticeDebrief.Of(session);
        Assert.Equal((PracticeVerdict.Wrong, null, null), (debrief.Verdict, debrief.ToCause, debrief.Noticed));
        Assert.False(Assert.Single(debrief.Checks).IsNeeded);
        Assert.Contains(DebriefText.Lines(debrief, 200), line => line.Contains("Given before it began", StringComparison.Ordinal));
    }

    [Fact]
    public void Of_several_answers_the_last_one_stands_and_checks_that_were_no_use_are_counted()
    {
        using var session = Practised.Begin("plywood-morning");
        session.AdvanceToAnAlarm();
        session.Do(PracticeActKind.Check, "lens");
        session.Do(PracticeActKind.Check, "mirrors");
        session.Do(PracticeActKind.Check, "mirrors");
        session.Do(PracticeActKind.NameCause, "lens-dirty");
        session.Advance(TimeSpan.FromSeconds(90));
        session.Do(PracticeActKind.NameCause, "air-hose-kink");
        session.Do(PracticeActKind.Finish);

        var debrief = PracticeDebrief.Of(session);

        Assert.Equal(PracticeVerdict.Right, debrief.Verdict);
        Assert.Equal(13, debrief.MinutesNotNeeded); // lens 5, mirrors 8, once
        Assert.Equal(["regulator", "air-hose"], debrief.Missed.Select(c => c.Id));
        Assert.Equal(PracticeActKind.NameCause, debrief.Noticed!.Act.Kind);
        Assert.Equal(debrief.ToCause, debrief.ToNotice);
        Assert.True(debrief.ToCause >= TimeSpan.FromSeconds(90));
    }

    [Fact]
    public void A_reading_stands_beside_what_is_recorded_and_what_was_usual()
    {
        using var session = Practised.Begin("plywood-morning");
        session.Advance(TimeSpan.FromSeconds(1105));

        // The hose kinked at 09:51:30; the job's record says 210 kPa.
        Assert.Equal(
            "air_pressure 155 kPa at 09:52:25; recorded for the job: 210 kPa; usual in earlier runs: 209 kPa.",
            session.Do(PracticeActKind.AskReading, "air_pressure").Answer);
        Assert.StartsWith("coolant_in ", session.Do(PracticeActKind.AskReading, "coolant_in").Answer, StringComparison.Ordinal);
        Assert.Contains("nothing is recorded for it at this job", session.Acts[^1].Answer, StringComparison.Ordinal);
    }

    [Fact]
    public void A_slow_fall_shows_in_the_trend_from_run_to_run()
    {
        using var session = Practised.Begin("seven-weeks");
        session.PlayOut();

        // Birch at 66 % had 17.6 mA at the beginning of August, and 16.2 mA at the end; the last run is of acrylic, at lower power.
        var falls = session.Minutes.Of(Channel.TubeCurrent).Where(m => m.Job == "birch-6-cut").ToList();
        Assert.InRange(falls[0].Median, 17.3, 17.8);
        Assert.InRange(falls[^1].Median, 16.0, 16.4);
        Assert.Matches(@"^tube_current, the last minutes: [\d., -]+ mA; by (rest|run of [\w-]+), 8 of \d+: [\d., -]+ mA\.$", session.Do(PracticeActKind.LookAtTrend, "tube_current").Answer);
    }

    [Fact]
    public void Nights_are_leapt_over_and_count_for_nothing()
    {
        using var session = Practised.Begin("seven-weeks");
        session.PlayOut();

        // Four working days of two runs: days on the calendar, and hours in front of the screen.
        Assert.True(session.Now - session.Time.Start > TimeSpan.FromDays(3));
        Assert.InRange(session.Watched, TimeSpan.FromMinutes(30), TimeSpan.FromHours(6));
    }

    [Fact]
    public void What_is_not_there_is_refused_and_does_not_count()
    {
        using var session = Practised.Begin("plywood-morning");

        Assert.Equal("there is no cause 'air-hose-knik'; did you mean 'air-hose-kink'?", session.Do(PracticeActKind.NameCause, "air-hose-knik").Answer);
        Assert.StartsWith("there is no channel 'gas'; there is ", session.Do(PracticeActKind.AskReading, "gas").Answer, StringComparison.Ordinal);
        Assert.StartsWith("there is no alarm 'air-low'", session.Do(PracticeActKind.Acknowledge, "air-low").Answer, StringComparison.Ordinal);
        Assert.Equal("no job is under way", session.Do(PracticeActKind.StopJob).Answer);
        Assert.Empty(session.Acts);
    }

    [Fact]
    public void A_stop_after_it_began_is_an_act_on_the_fault_and_one_before_is_needless()
    {
        using var session = Practised.Begin("plywood-morning");
        while (session.RunSince is null)
            session.Advance(TimeSpan.FromSeconds(1));
        session.Do(PracticeActKind.StopJob);
        session.AdvanceToAnAlarm();
        session.Do(PracticeActKind.StopJob);
        session.Do(PracticeActKind.GiveUp);

        Assert.False(session.Do(PracticeActKind.StopJob).IsTaken);
        var debrief = PracticeDebrief.Of(session);
        Assert.Equal((PracticeVerdict.GivenUp, 1, PracticeActKind.StopJob), (debrief.Verdict, debrief.NeedlessStops, debrief.Noticed!.Act.Kind));
    }

    [Theory]
    [MemberData(nameof(Faults))]
    public void The_first_departure_is_of_a_channel_that_the_fault_moves_and_after_it_began(string name)
    {
        // What each fault moves first, by its own notes.
        var moves = new Dictionary<string, string[]>
        {
            ["supply-failing"] = ["tube_current"],
            ["air-set-low"] = ["air_pressure", "air_flow"],
            ["air-compressor"] = ["air_pressure", "air_flow"],
            ["nozzle-dirty"] = ["air_flow", "air_pressure"],
            ["coolant-flow-low"] = [FirstDepartures.CoolantRise],
            ["air-hose-kink"] = ["air_pressure", "air_flow"],
            ["tube-aged"] = ["tube_current"],
            ["coolant-warm"] = ["coolant_in", "coolant_out"],
        };
        using var session = Practised.Begin(name);
        session.PlayOut();

        var departures = FirstDepartures.Of(session.Minutes, session.Case.Began!.Value);

        Assert.Subset(departures.Select(d => d.What).ToHashSet(), moves[session.Case.Causes[0]].ToHashSet());
        Assert.All(departures, d => Assert.True(d.At >= session.Case.Began));
    }
}
