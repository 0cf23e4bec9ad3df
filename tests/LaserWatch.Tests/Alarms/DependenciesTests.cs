using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

public class DependenciesTests
{
    [Fact]
    public void Nothing_explains_itself_or_what_explains_it()
    {
        foreach (var condition in Conditions.All)
            Assert.False(Dependencies.Explains(condition, condition), condition);
    }

    [Fact]
    public void What_is_silenced_is_never_worse_than_what_silences_it()
    {
        foreach (var folded in Dependencies.All.Where(d => d.Folded))
        {
            var effect = RuleBook.Find(folded.Effect)!.Weights.Max(w => Priorities.Of(w.Consequence, w.Time));
            var cause = RuleBook.Find(folded.Cause)!.PriorityOf(Degree.Plain);
            Assert.True(effect <= cause, $"{folded.Effect} ({effect}) into {folded.Cause} ({cause})");
        }
    }

    [Fact]
    public void Low_air_is_folded_into_lost_air_and_told_when_some_comes_back()
    {
        var scene = Cutting();
        scene.Cut(Scene.Hold(5, 30));

        var lost = Assert.Single(scene.Raised(Conditions.AirPressureLost));
        Assert.Empty(scene.Raised(Conditions.AirPressureLow));
        Assert.True(Assert.Single(scene.Folded(Conditions.AirPressureLow, Conditions.AirPressureLost)).Time >= lost.Time);

        scene.Cut(Scene.Hold(150, 120));
        Assert.True(scene.Changes.Single(c => c.Condition == Conditions.AirPressureLost && c.State == AlarmState.ReturnedUnacknowledged).IsLatched);
        var low = Assert.Single(scene.Raised(Conditions.AirPressureLow));
        Assert.Null(low.ExplainedBy);
    }

    [Fact]
    public void A_run_that_ends_sets_low_air_aside_and_the_next_one_judges_anew()
    {
        var scene = Cutting();
        scene.Cut(Scene.Hold(150, 30));
        scene.Changes.AddRange(scene.Watch.Observe(new AlarmCommand("bay1", scene.Now, AlarmCommandKind.Acknowledge, Conditions.AirPressureLow, "ana")));
        scene.End();
        Assert.Equal(AlarmState.SuppressedByDesign, scene.Changes[^1].State);
        Assert.StartsWith("suppressed by design, the run is over: air pressure 150", scene.Changes[^1].Message, StringComparison.Ordinal);
        var quiet = scene.Changes.Count;
        scene.Cut(Scene.Hold(20, 120)); // the compressor is off between jobs: nothing to say
        Assert.Equal(quiet, scene.Changes.Count);

        scene.Begin("birch-6-cut");
        scene.Cut(Scene.Hold(210, 30));
        Assert.Equal(AlarmState.Normal, scene.Watch.Standing.SingleOrDefault(c => c.Condition == Conditions.AirPressureLow)?.State ?? AlarmState.Normal);
        Assert.Equal(AlarmState.Normal, scene.Changes.Last(c => c.Condition == Conditions.AirPressureLow).State);
    }

    [Fact]
    public void An_effect_that_is_a_danger_of_its_own_is_told_with_its_cause_beside_it()
    {
        var scene = Cutting();
        for (var i = 0; i < 1200; i++)
            scene.Say(1, new(Channel.CoolantIn, 20), new(Channel.CoolantFlow, 4), new(Channel.Lasing, 1));
        for (var i = 0; i < 120; i++)
            scene.Say(1, new(Channel.CoolantIn, 20), new(Channel.CoolantFlow, 0.1), new(Channel.Lasing, 1));
        Assert.NotEmpty(scene.Raised(Conditions.CoolantFlowLow));
        for (var i = 0; i < 120; i++)
            scene.Say(1, new(Channel.CoolantIn, 34), new(Channel.CoolantFlow, 0.1), new(Channel.Lasing, 1));

        Assert.Equal(Conditions.CoolantFlowLow, Assert.Single(scene.Raised(Conditions.CoolantHot)).ExplainedBy);
    }

    private static Scene Cutting()
    {
        var scene = new Scene();
        scene.Begin("birch-6-cut");
        scene.Cut(Scene.Hold(210, 60));
        return scene;
    }
}
