using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>
/// The state diagram of ANSI/ISA-18.2-2016 (figure 3) and IEC 62682:2022, every transition of it; the diagram is from memory, latched and
/// shelved states also as OPC 10000-9 quotes them. A normal, B unacknowledged, C acknowledged, D returned unacknowledged, E latched
/// unacknowledged, F latched acknowledged, G shelved, H suppressed by design, I out of service.
/// </summary>
public class AlarmLifeCycleTests
{
    private static readonly Dependency Cause = new(Conditions.CoolantDrift, Conditions.CoolantHot, true, "it says more");
    private static readonly string[] Events =
        ["true", "false", "undecided", "ack", "reset", "shelve", "unshelve", "shelf-time", "suppress", "unsuppress", "remove", "return", "worse", "irrelevant"];

    [Theory]
    [InlineData("A", "true", "B")]
    [InlineData("B", "ack", "C")]
    [InlineData("B", "false", "D")]
    [InlineData("C", "false", "A")]
    [InlineData("D", "ack", "A")]
    [InlineData("D", "true", "B")]
    [InlineData("C", "re-alarm", "B")]
    public void Without_latching(string from, string what, string to) => Assert.Equal(to, Life.In(from, latching: false).Happens(what).Code);

    [Theory]
    [InlineData("B", "false", "E")]
    [InlineData("C", "false", "F")]
    [InlineData("E", "ack", "F")]
    [InlineData("F", "reset", "A")]
    [InlineData("E", "true", "B")]
    [InlineData("F", "true", "B")]
    public void With_latching(string from, string what, string to) => Assert.Equal(to, Life.In(from, latching: true).Happens(what).Code);

    [Theory]
    [InlineData("A", "A")]
    [InlineData("B", "B")]
    [InlineData("C", "B")]
    [InlineData("D", "A")]
    [InlineData("E", "A")]
    [InlineData("F", "A")]
    public void Shelved_or_out_of_service_from_any_state_it_comes_back_by_its_present_condition(string from, string to)
    {
        foreach (var (away, state, back) in new[] { ("shelve", "G", "unshelve"), ("shelve", "G", "shelf-time"), ("remove", "I", "return") })
        {
            var life = Life.In(from, latching: from is "E" or "F");
            Assert.Equal(state, life.Happens(away).Code);
            Assert.Equal(to, life.Happens(back).Code);
        }
    }

    [Fact]
    public void What_another_alarm_explains_is_suppressed_and_comes_back_by_its_present_condition()
    {
        var life = Life.In("B", latching: false);
        Assert.Equal("H", life.Happens("suppress").Code);
        Assert.Equal("B", life.Happens("unsuppress").Code);

        life = Life.In("B", latching: false);
        life.Happens("suppress").Happens("false");
        Assert.Equal("A", life.Happens("unsuppress").Code);
    }

    [Fact]
    public void A_normal_alarm_is_suppressed_only_once_its_condition_comes()
    {
        // The diagram suppresses it at once; told so, one coolant alarm would change the state of four.
        var life = Life.In("A", latching: false).Happens("suppress");
        Assert.Equal("A", life.Code);
        Assert.Equal("H", life.Happens("true").Code);
        Assert.Equal(Conditions.CoolantHot, life.Latch.Last!.ExplainedBy);
        Assert.StartsWith("suppressed by design, coolant-hot explains it", life.Latch.Last.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("C", false)]
    [InlineData("D", false)]
    [InlineData("E", true)]
    [InlineData("F", true)]
    public void What_a_person_has_seen_or_must_still_see_is_not_suppressed(string state, bool latching)
    {
        // The diagram would suppress these too, and then the acknowledged one would be told again when its cause is gone.
        Assert.Equal(state, Life.In(state, latching).Happens("suppress").Code);
    }

    [Fact]
    public void Grown_worse_it_is_told_although_another_alarm_explained_it()
    {
        var life = Life.In("B", latching: false).Happens("suppress").Happens("worse");
        Assert.Equal("B", life.Code);
        Assert.Equal("B", life.Happens("suppress").Code);
    }

    [Fact]
    public void What_has_lost_its_object_is_suppressed_until_it_is_judged_again_but_not_unseen()
    {
        Assert.Equal("D", Life.In("B", latching: false).Happens("irrelevant").Code);

        var life = Life.In("C", latching: false);
        Assert.Equal("H", life.Happens("irrelevant").Code);
        Assert.Equal("A", life.Happens("false").Code);

        life = Life.In("C", latching: false).Happens("irrelevant").Happens("irrelevant");
        Assert.Equal("B", life.Happens("true").Code);
    }

    [Fact]
    public void What_latches_stays_to_be_seen_when_it_has_lost_its_object()
    {
        Assert.Equal("E", Life.In("B", latching: true).Happens("irrelevant").Code);
        Assert.Equal("F", Life.In("C", latching: true).Happens("irrelevant").Code);
    }

    [Fact]
    public void A_latched_alarm_says_that_it_waits_for_a_reset()
    {
        var life = Life.In("E", latching: true);
        Assert.True(life.Latch.Last!.IsLatched);
        Assert.Equal("E", life.Happens("reset").Code);
        Assert.True(life.Happens("ack").Latch.Last!.IsLatched);
        Assert.False(life.Happens("reset").Latch.Last!.IsLatched);
        Assert.False(Life.In("C", latching: true).Latch.Last!.IsLatched);
    }

    [Fact]
    public void Air_that_was_lost_latches_unless_the_shop_says_otherwise()
    {
        Assert.Equal("E", new Life(Conditions.AirPressureLost, new AlarmOptions()).Happens("true").Happens("false").CodeOf(latching: true));
        Assert.Equal("D", new Life(Conditions.AirPressureLow, new AlarmOptions()).Happens("true").Happens("false").CodeOf(latching: false));
        Assert.Equal("D", new Life(Conditions.AirPressureLost, Own(Conditions.AirPressureLost, new ConditionOptions { Latching = false })).Happens("true").Happens("false").CodeOf(latching: false));
    }

    [Fact]
    public void Shelving_says_until_when_and_who_and_why()
    {
        var life = Life.In("B", latching: false).Happens("shelve");

        var change = life.Latch.Last!;
        Assert.Equal(("ana", "shelved by ana: waiting for a part: hot"), (change.By, change.Message));
        Assert.Equal((life.Now + TimeSpan.FromMinutes(30)).ToString(), change.Evidence.Single(e => e.Name == AlarmChange.ShelvedUntilEvidence).Text);
        Assert.DoesNotContain(life.Happens("unshelve").Latch.Last!.Evidence, e => e.Name == AlarmChange.ShelvedUntilEvidence);
    }

    [Fact]
    public void A_condition_must_last_its_delays_and_pass_its_deadband()
    {
        var options = Own(Conditions.CoolantDrift, new ConditionOptions { OnDelaySeconds = 5, OffDelaySeconds = 7, Deadband = 2 });
        var life = new Life(Conditions.CoolantDrift, options) { StepSeconds = 1 };

        Assert.Equal(6, life.StepsUntil("B", "true")); // the sixth second is the first that is five seconds after the first
        Assert.Equal("B", life.Judged(Judgement.Normal, 29, 30, times: 20).Code); // nearer than the deadband: not over
        Assert.Equal("B", life.Judged(Judgement.Normal, 27, 30, times: 7).Code);
        Assert.Equal("D", life.Judged(Judgement.Normal, 27, 30).Code);

        var brief = new Life(Conditions.CoolantDrift, options) { StepSeconds = 1 };
        for (var i = 0; i < 50; i++)
            brief.Happens("true").Happens("true").Happens("true").Happens("false");
        Assert.Equal("A", brief.Code);
    }

    [Fact]
    public void The_shops_own_priority_goes_before_the_table()
    {
        var life = new Life(Conditions.CoolantDrift, Own(Conditions.CoolantDrift, new ConditionOptions { Priority = AlarmPriority.Urgent }));
        Assert.Equal(AlarmPriority.Urgent, life.Happens("true").Latch.Last!.Priority);
    }

    [Fact]
    public void The_third_annunciation_within_a_minute_is_chattering_and_is_held_until_it_is_quiet()
    {
        // 3 or more in 1 minute: the customary criterion of alarm practice after ISA-18.2.
        var life = new Life(Conditions.CoolantDrift, new AlarmOptions()) { StepSeconds = 10 };
        life.Happens("true").Happens("false").Happens("true").Happens("false");
        Assert.DoesNotContain(life.Latch.Last!.Evidence, e => e.Name == "chattering");

        life.Happens("true");
        Assert.Equal("3 times within 60 s; held until it has been gone for 10 min", life.Latch.Last!.Evidence.Single(e => e.Name == "chattering").Text);
        for (var i = 0; i < 30; i++)
            life.Happens("false").Happens("true");
        Assert.Equal(5, life.Announced);

        Assert.Equal(61, life.StepsUntil("D", "false")); // 10 min after the first good sample
        life.Happens("true").Happens("false");
        Assert.Equal("D", life.Code); // and then it is an alarm like any other
    }

    [Fact]
    public void Three_annunciations_in_more_than_a_minute_are_no_chattering()
    {
        var life = new Life(Conditions.CoolantDrift, new AlarmOptions()) { StepSeconds = 16 };
        life.Happens("true").Happens("false").Happens("true").Happens("false").Happens("true").Happens("false");
        Assert.Equal("D", life.Code);
    }

    [Fact]
    public void Whatever_happens_in_whatever_order_no_transition_is_illegal()
    {
        // From the diagram, and the two it does not show: shelved or taken out of service from where it is silent already.
        HashSet<string> legal =
        [
            "AB", "BC", "BD", "BE", "CA", "CF", "DA", "DB", "EF", "EB", "FA", "FB", "CB", "BB", "AH", "DH", "EH", "FH",
            .. "ABCDEFH".Select(s => $"{s}G"), .. "ABCDEFGH".Select(s => $"{s}I"), "GG", "GA", "GB", "GH", "IA", "IB", "IH", "BH", "CH", "HA", "HB",
        ];
        Gen.Select(Gen.Bool, Gen.Int[0, Events.Length - 1].Array[1, 60]).Sample((latching, happens) =>
        {
            var life = new Life(Conditions.CoolantDrift, Life.Options(latching));
            var seen = new List<string> { life.Code };
            foreach (var what in happens)
            {
                var announced = life.Announced;
                life.Happens(Events[what]);
                if (life.Announced == announced)
                    Assert.Equal(seen[^1], life.Code); // no change of state goes unsaid
                else
                    Assert.Contains(seen[^1] + life.Code, legal);
                seen.Add(life.Code);
            }
        }, iter: 3000, seed: "0N0XIzNsQ0O2");
    }

    [Fact]
    public void Saved_and_restored_at_any_moment_it_goes_on_as_if_nothing_had_been()
    {
        Gen.Select(Gen.Bool, Gen.Int[0, Events.Length - 1].Array[1, 40], Gen.Int[0, 39]).Sample((latching, happens, when) =>
        {
            var whole = new Life(Conditions.CoolantDrift, Life.Options(latching));
            var cut = new Life(Conditions.CoolantDrift, Life.Options(latching));
            for (var i = 0; i < happens.Length; i++)
            {
                if (i == when)
                    cut = cut.Restarted();
                Assert.Equal(whole.Happens(Events[happens[i]]).Code, cut.Happens(Events[happens[i]]).Code);
                Assert.Equal(whole.Latch.Last?.Message, cut.Latch.Last?.Message);
            }
        }, iter: 500, seed: "0N0XIzNsQ0O2");
    }

    [Theory]
    [InlineData("B", "true", "B")]
    [InlineData("B", "false", "D")]
    [InlineData("C", "false", "A")]
    [InlineData("D", "true", "B")]
    [InlineData("set aside", "false", "A")]
    [InlineData("set aside", "true", "B")]
    [InlineData("folded", "false", "A")]
    [InlineData("folded", "unsuppress", "B")]
    public void Taken_up_from_the_alarm_log_alone_it_goes_on_from_there(string state, string what, string to)
    {
        var before = state switch
        {
            "set aside" => Life.In("C", latching: false).Happens("irrelevant"),
            "folded" => Life.In("B", latching: false).Happens("suppress"),
            _ => Life.In(state, latching: false),
        };

        var after = new Life(Conditions.CoolantDrift, Life.Options(latching: false));
        after.Latch.TakeUp(before.Latch.Last!);
        if (state == "folded")
            after.Happens("suppress");
        Assert.Equal(to, after.Happens(what).Code);
    }

    private static AlarmOptions Own(string condition, ConditionOptions own) =>
        new() { Conditions = new Dictionary<string, ConditionOptions> { [condition] = own } };

    /// <summary>An alarm, the time, and what can happen to it.</summary>
    private sealed class Life(string condition, AlarmOptions options)
    {
        private static readonly Dictionary<string, string[]> Ways = new()
        {
            ["A"] = [], ["B"] = ["true"], ["C"] = ["true", "ack"], ["D"] = ["true", "false"], ["E"] = ["true", "false"], ["F"] = ["true", "ack", "false"],
        };

        private readonly Reading _reading = new();
        private readonly SaysHot _detector = new(condition);

        public AlarmLatch Latch { get; private set; } = new("bay1", condition, options);

        public Instant Now { get; private set; } = Scene.Start;

        public double StepSeconds { get; init; } = 100;

        public int Announced { get; private set; }

        public string Code => CodeOf(options.Of(condition).Latching == true);

        public static AlarmOptions Options(bool latching) => new()
        {
            Conditions = new Dictionary<string, ConditionOptions> { [Conditions.CoolantDrift] = new() { Latching = latching, ReAlarmMinutes = 40 } },
        };

        public static Life In(string state, bool latching)
        {
            var life = new Life(Conditions.CoolantDrift, Options(latching));
            foreach (var step in Ways[state])
                life.Happens(step);
            Assert.Equal(state, life.Code);
            return life;
        }

        public string CodeOf(bool latching) => (Latch.State, Latch.IsBreach) switch
        {
            (AlarmState.Normal, _) => "A",
            (AlarmState.Unacknowledged, _) => "B",
            (AlarmState.Acknowledged, true) => "C",
            (AlarmState.Acknowledged, false) => "F",
            (AlarmState.ReturnedUnacknowledged, _) => latching ? "E" : "D",
            (AlarmState.Shelved, _) => "G",
            (AlarmState.SuppressedByDesign, _) => "H",
            _ => "I",
        };

        public Life Happens(string what) => what switch
        {
            "true" => Judged(Judgement.Breach, 31, 30),
            "worse" => Judged(Judgement.Breach, 35, 30, grade: 1),
            "false" => Judged(Judgement.Normal, 25, 30),
            "undecided" => Judged(Judgement.Undecided, null, null),
            "irrelevant" => Judged(Judgement.Irrelevant, null, null),
            "suppress" => Say(Latch.Relate(Now, Cause)),
            "unsuppress" => Say(Latch.Relate(Now, null)),
            "shelf-time" => Wait(31 * 60),
            "re-alarm" => Wait(41 * 60),
            "ack" => Ask(AlarmCommandKind.Acknowledge),
            "reset" => Ask(AlarmCommandKind.Reset),
            "shelve" => Ask(AlarmCommandKind.Shelve),
            "unshelve" => Ask(AlarmCommandKind.Unshelve),
            "remove" => Ask(AlarmCommandKind.OutOfService),
            "return" => Ask(AlarmCommandKind.InService),
            _ => throw new ArgumentException(what, nameof(what)),
        };

        public Life Judged(Judgement judgement, double? value, double? limit, int grade = 0, int times = 1)
        {
            for (var i = 0; i < times; i++)
            {
                Now += TimeSpan.FromSeconds(StepSeconds);
                Say(Latch.Apply(_reading, Now, new Verdict(judgement, value, limit, grade), _detector));
            }

            return this;
        }

        public int StepsUntil(string state, string what)
        {
            for (var steps = 1; steps < 1000; steps++)
            {
                if (Happens(what).Code == state)
                    return steps;
            }

            return -1;
        }

        public Life Restarted()
        {
            var fresh = new AlarmLatch("bay1", condition, options);
            Assert.True(StateVisitor.TryLoad(StateVisitor.Save(Latch.Visit), fresh.Visit));
            Latch = fresh;
            return this;
        }

        private Life Wait(double seconds)
        {
            Now += TimeSpan.FromSeconds(seconds);
            return Say(Latch.Tick(Now));
        }

        private Life Ask(AlarmCommandKind kind) =>
            Say(Latch.Apply(new AlarmCommand("bay1", Now, kind, condition, "ana", null, kind == AlarmCommandKind.Shelve ? "waiting for a part" : null)));

        private Life Say(AlarmChange? change)
        {
            if (change is not null)
            {
                Announced++;
                Assert.Equal(Latch.State, change.State);
            }

            return this;
        }
    }

    private sealed class SaysHot(string condition) : Rule(RuleBook.Find(condition)!)
    {
        public override Verdict Update(Reading reading) => default;

        public override Finding Explain(Reading reading, Verdict verdict) =>
            new(AlarmPriority.High, "°C", verdict.Judgement == Judgement.Irrelevant ? "the run is over" : "hot", [], []);

        public override IReadOnlyList<string> Lacks(Reading reading) => [];

        public override void Visit(StateVisitor state) { }
    }
}
