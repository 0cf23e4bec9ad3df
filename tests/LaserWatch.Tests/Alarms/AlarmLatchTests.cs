using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>Transitions of the state diagram of ANSI/ISA-18.2-2016 and IEC 62682:2022 (from memory).</summary>
public class AlarmLatchTests
{
    private static readonly Instant Start = Scene.Start;
    private readonly AlarmLatch _latch = new("bay1", Conditions.CoolantHot);
    private readonly Reading _reading = new();
    private readonly Always _detector = new();

    [Fact]
    public void A_breach_is_said_once()
    {
        Assert.Equal(AlarmState.Unacknowledged, Judge(Judgement.Breach)!.State);
        Assert.Null(Judge(Judgement.Breach));
    }

    [Fact]
    public void Undecided_neither_raises_nor_clears()
    {
        Assert.Null(Judge(Judgement.Undecided));
        Judge(Judgement.Breach);
        Assert.Null(Judge(Judgement.Undecided));
        Assert.Equal(AlarmState.Unacknowledged, _latch.State);
    }

    [Fact]
    public void Acknowledged_first_it_returns_to_normal_and_otherwise_waits_to_be_seen()
    {
        Judge(Judgement.Breach);
        var acknowledged = Command(AlarmCommandKind.Acknowledge)!;
        Assert.Equal((AlarmState.Acknowledged, "ana", "acknowledged by ana: hot"), (acknowledged.State, acknowledged.By, acknowledged.Message));
        Assert.Equal(AlarmState.Normal, Judge(Judgement.Normal)!.State);

        Judge(Judgement.Breach);
        Assert.Equal(AlarmState.ReturnedUnacknowledged, Judge(Judgement.Normal)!.State);
        Assert.Equal(AlarmState.Normal, Command(AlarmCommandKind.Acknowledge)!.State);
    }

    [Fact]
    public void A_breach_that_comes_back_unseen_is_announced_again()
    {
        Judge(Judgement.Breach);
        Judge(Judgement.Normal);

        Assert.Equal(AlarmState.Unacknowledged, Judge(Judgement.Breach)!.State);
    }

    [Fact]
    public void Growing_worse_is_announced_even_when_acknowledged()
    {
        Judge(Judgement.Breach);
        Command(AlarmCommandKind.Acknowledge);

        Assert.Equal(AlarmState.Unacknowledged, Judge(Judgement.Breach, grade: 1)!.State);
        Assert.Null(Judge(Judgement.Breach, grade: 1));
    }

    [Fact]
    public void Shelved_it_keeps_still_until_its_time_is_over()
    {
        Assert.Equal(AlarmState.Shelved, _latch.Apply(new AlarmCommand("bay1", Start, AlarmCommandKind.Shelve, Conditions.CoolantHot, "ana", TimeSpan.FromMinutes(10), "cleaning"))!.State);
        Assert.Null(Judge(Judgement.Breach));
        Assert.Null(_latch.Tick(Start + TimeSpan.FromMinutes(9)));

        Assert.Equal(AlarmState.Unacknowledged, _latch.Tick(Start + TimeSpan.FromMinutes(10))!.State);
    }

    [Fact]
    public void Shelved_and_good_again_it_comes_back_normal()
    {
        Judge(Judgement.Breach);
        Command(AlarmCommandKind.Shelve);
        Assert.Null(Judge(Judgement.Normal));

        Assert.Equal(AlarmState.Normal, Command(AlarmCommandKind.Unshelve)!.State);
    }

    [Fact]
    public void Out_of_service_it_says_nothing_until_it_is_back()
    {
        Assert.Equal(AlarmState.OutOfService, Command(AlarmCommandKind.OutOfService)!.State);
        Assert.Null(Judge(Judgement.Breach));
        Assert.Null(Command(AlarmCommandKind.Acknowledge));

        Assert.Equal(AlarmState.Unacknowledged, Command(AlarmCommandKind.InService)!.State);
    }

    [Fact]
    public void Commands_that_do_not_fit_the_state_do_nothing()
    {
        Assert.Null(Command(AlarmCommandKind.Acknowledge));
        Assert.Null(Command(AlarmCommandKind.Unshelve));
        Assert.Null(Command(AlarmCommandKind.InService));
    }

    private AlarmChange? Judge(Judgement judgement, int grade = 0) => _latch.Apply(_reading, Start, new Verdict(judgement, 31, 30, grade), _detector);

    private AlarmChange? Command(AlarmCommandKind kind) => _latch.Apply(new AlarmCommand("bay1", Start, kind, Conditions.CoolantHot, "ana"));

    private sealed class Always() : Rule(RuleBook.Find(Conditions.CoolantHot)!)
    {
        public override Verdict Update(Reading reading) => default;

        public override Finding Explain(Reading reading, Verdict verdict) => new(AlarmPriority.High, "°C", "hot", [], []);

        public override IReadOnlyList<string> Lacks(Reading reading) => [];

        public override void Visit(StateVisitor state) { }
    }
}
