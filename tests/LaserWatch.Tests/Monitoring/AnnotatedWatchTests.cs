using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Jobs;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

public class AnnotatedWatchTests
{
    private static Annotation Of(Instant from, Instant to) => new("bay1", "1", AnnotationKind.Faulty, from, to, null, null, null, null);

    private static MachineWatch Watch() => new("bay1", TubeShop.Options, TubeShop.Book);

    private static List<AlarmChange> Play(MachineWatch watch, TubeShop shop, Instant? from = null, Instant? to = null)
    {
        List<AlarmChange> changes = [];
        var events = shop.Services.Select(s => (s.At, 0, (Func<IReadOnlyList<AlarmChange>>)(() => watch.Observe(s))))
            .Concat(shop.Runs.Select(r => (r.At, r.Kind == JobEventKind.End ? 1 : 2, (Func<IReadOnlyList<AlarmChange>>)(() => watch.Observe(r)))))
            .Concat(shop.Samples.GroupBy(s => s.At).Select(g => (g.Key, 3, (Func<IReadOnlyList<AlarmChange>>)(() => watch.Observe(g.Key, [.. g.Select(s => new ChannelValue(s.Channel, s.Value))])))));
        foreach (var (at, _, act) in events.OrderBy(e => e.Item1).ThenBy(e => e.Item2))
        {
            if (!(at < from) && !(at >= to))
                changes.AddRange(act());
        }

        return changes;
    }

    [Fact]
    public void A_sick_first_week_is_not_taken_for_the_baseline()
    {
        var shop = new TubeShop().Work(0, 5, _ => 0.8).Work(7, 19, _ => 1).Work(21, 26, _ => 0.9);
        var plain = Watch();
        Play(plain, shop);
        shop.Services.Add(Of(TubeShop.FirstDay, TubeShop.FirstDay + TimeSpan.FromDays(6)).ToEvent());
        var annotated = Watch();
        var changes = Play(annotated, shop);

        Assert.InRange(plain.Tube.All.Ratio(0), 1.08, 1.17);
        Assert.InRange(annotated.Tube.All.Ratio(0), 0.87, 0.93);
        Assert.Contains(changes, c => c.Condition is Conditions.TubeCurrentSag or Conditions.TubeCurrentStep && c.State == AlarmState.Unacknowledged);
    }

    [Fact]
    public void An_alarm_is_raised_in_an_annotated_span_as_ever_and_its_fall_is_forgotten_after_it()
    {
        var shop = new TubeShop().Work(0, 19, _ => 1).Work(21, 26, _ => 0.8).Work(28, 33, _ => 1);
        var fault = Of(TubeShop.FirstDay + TimeSpan.FromDays(20), TubeShop.FirstDay + TimeSpan.FromDays(27));
        var blocks = Watch();
        Play(blocks, shop, to: fault.From);
        shop.Services.Add(fault.ToEvent());
        var watch = Watch();
        var changes = Play(watch, shop, to: fault.To);

        Assert.Contains(changes, c => c.State == AlarmState.Unacknowledged && c.Condition is Conditions.TubeCurrentSag or Conditions.TubeCurrentStep && fault.Covers(c.Time));
        Play(watch, shop, fault.To, fault.To + TimeSpan.FromDays(1) + TimeSpan.FromHours(8.1));
        Assert.InRange(watch.Tube.BlocksEver - blocks.Tube.BlocksEver, 0, 12);
        Assert.InRange(watch.Tube.All.Ratio(0), 0.97, 1.03);
    }

    [Fact]
    public void What_was_learned_before_the_span_is_taken_up_to_the_byte_at_its_end()
    {
        var scene = new Scene(recordedCurrent: 18.2);
        scene.Begin();
        scene.Cut(Scene.Hold(210, 120));
        scene.End();
        scene.Say(10);
        scene.Watch.Observe(Of(scene.Now, scene.Now + TimeSpan.FromMinutes(10)).ToEvent());
        scene.Watch.Observe(scene.Now, []);
        var before = scene.Watch.Learned.Learned;
        var end = scene.Now + TimeSpan.FromMinutes(10);
        for (var run = 0; run < 3; run++)
        {
            scene.Begin();
            scene.Cut(Scene.Hold(150, 150));
            scene.End();
            scene.Say(10);
        }

        Assert.NotEmpty(scene.Raised(Conditions.AirPressureLow));
        Assert.NotEqual(before, scene.Watch.Learned.Learned);
        scene.Now = end;
        scene.Watch.Observe(scene.Now, []);
        Assert.Equal(before, scene.Watch.Learned.Learned);
    }

    [Fact]
    public void A_restart_within_the_span_changes_nothing()
    {
        var shop = new TubeShop().Work(0, 12, _ => 1).Work(14, 19, _ => 0.8).Work(21, 24, _ => 1);
        shop.Services.Add(Of(TubeShop.FirstDay + TimeSpan.FromDays(13), TubeShop.FirstDay + TimeSpan.FromDays(20)).ToEvent());
        var whole = Watch();
        var expected = Play(whole, shop);

        var stop = TubeShop.Morning(16) + TimeSpan.FromMinutes(5);
        var first = Watch();
        var changes = Play(first, shop, to: stop);
        var second = Watch();
        Assert.True(second.TryRestore(first.Save()));
        changes.AddRange(Play(second, shop, from: stop));

        Assert.Equal(whole.Save(), second.Save());
        Assert.Equal(expected.Select(c => (c.Time, c.Condition, c.State)), changes.Select(c => (c.Time, c.Condition, c.State)));
    }

    [Fact]
    public void A_span_whose_time_has_been_seen_is_not_claimed_to_be_left_out()
    {
        var scene = new Scene();
        scene.Cut(210, 210, 210);

        scene.Watch.Observe(Of(Scene.Start, Scene.Start + TimeSpan.FromSeconds(1)).ToEvent());

        Assert.Equal(0, scene.Watch.LeftOutUntil(Instant.MaxValue));
    }

    [Fact]
    public void A_new_tube_within_the_span_is_not_given_the_old_ones_baseline()
    {
        var shop = new TubeShop().Work(0, 12, _ => 1).Serve(15, "tube", "replaced", "T-000002").Work(14, 19, _ => 0.9).Work(21, 26, _ => 0.9);
        shop.Services.Add(Of(TubeShop.FirstDay + TimeSpan.FromDays(13), TubeShop.FirstDay + TimeSpan.FromDays(20)).ToEvent());
        var watch = Watch();
        Play(watch, shop);

        Assert.InRange(watch.Tube.All.Ratio(0), 0.97, 1.03);
    }

    [Fact]
    public void A_state_without_annotations_is_as_long_as_ever()
    {
        var scene = new Scene();
        scene.Cut(210, 210, 210);
        var plain = scene.Watch.Save().Length;

        scene.Watch.Observe(Of(scene.Now, scene.Now + TimeSpan.FromSeconds(1)).ToEvent());

        Assert.True(scene.Watch.Save().Length > plain);
    }
}
