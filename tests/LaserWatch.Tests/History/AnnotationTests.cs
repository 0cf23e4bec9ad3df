using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

public class AnnotationTests
{
    private static readonly Instant Nine = Instant.From(new DateTimeOffset(2026, 3, 9, 9, 0, 0, TimeSpan.Zero));

    private static Annotation Span(int from, int to, AnnotationKind kind = AnnotationKind.Faulty, string? id = null) => new(
        TubeShop.Machine, id ?? $"{from}-{to}-{kind}", kind, Nine + TimeSpan.FromMinutes(from), Nine + TimeSpan.FromMinutes(to), null, null, null, null);

    [Fact]
    public void It_comes_back_whole_from_the_service_log_and_from_a_recording()
    {
        var annotation = Span(0, 90) with { Cause = "hose-kink", Note = "found by ear, \"hissing\"", By = "ann", Made = Nine + TimeSpan.FromDays(3) };

        Assert.Equal(annotation, Annotation.Of(annotation.ToEvent()));
        var lines = new LineFormatter();
        EventLines.Write(lines, annotation.ToEvent());
        using var reader = new RecordingReader(new MemoryStream(lines.Written.ToArray()), new ChannelTable());
        Assert.Equal(annotation, Annotation.Of(reader.Read()!.Service!));
    }

    [Fact]
    public void It_stands_in_the_log_where_its_span_begins() => Assert.Equal(Span(0, 90).From, Span(0, 90).ToEvent().At);

    [Theory]
    [InlineData("tube", "faulty", "2026-03-09T10:00:00Z")]
    [InlineData("annotation", "excellent", "2026-03-09T10:00:00Z")]
    [InlineData("annotation", "faulty", "soon")]
    [InlineData("annotation", "faulty", "2026-03-09T08:00:00Z")]
    public void An_entry_without_kind_or_span_is_none(string part, string action, string to) => Assert.Null(Annotation.Of(new(
        "bay1", Nine, part, action, null, null, new Dictionary<string, string> { ["id"] = "1", ["to"] = to })));

    [Fact]
    public void One_that_was_withdrawn_is_not_in_force_whichever_entry_comes_first()
    {
        var (kept, gone) = (Span(0, 10), Span(5, 20));
        var removal = gone.ToRemoval("ann", Nine + TimeSpan.FromDays(1));

        Assert.Equal([kept.Id], AnnotationBook.Of([kept.ToEvent(), gone.ToEvent(), removal]).InForce.Select(a => a.Id));
        Assert.Equal([kept.Id], AnnotationBook.Of([removal, gone.ToEvent(), kept.ToEvent()]).InForce.Select(a => a.Id));
    }

    [Fact]
    public void A_moment_is_left_out_where_a_faulty_or_ignored_span_covers_it() =>
        Gen.Select(Gen.Int[0, 60], Gen.Int[1, 30], Gen.Int[0, 2]).List[0, 6].Select(Gen.Int[-5, 100].List[1, 40]).Sample((spans, moments) =>
        {
            var annotations = spans.Select((s, i) => Span(s.Item1, s.Item1 + s.Item2, (AnnotationKind)s.Item3, $"{i}")).ToList();
            var book = AnnotationBook.Of(annotations.Select(a => a.ToEvent()));
            foreach (var at in moments.Select(minute => Nine + TimeSpan.FromMinutes(minute)))
                Assert.Equal(annotations.Any(a => a.Kind != AnnotationKind.Good && a.From <= at && at < a.To), book.LeavesOut(at));
        });

    [Fact]
    public void The_fingerprint_tells_which_spans_are_left_out_and_not_how_they_were_told()
    {
        var (a, b, good) = (Span(0, 10), Span(20, 30, AnnotationKind.Ignore), Span(40, 50, AnnotationKind.Good));
        var late = Nine + TimeSpan.FromDays(1);
        var both = AnnotationBook.Of([a.ToEvent(), b.ToEvent()]).FingerprintUntil(late);

        Assert.Equal(both, AnnotationBook.Of([good.ToEvent(), b.ToEvent(), a.ToEvent()]).FingerprintUntil(late));
        Assert.NotEqual(both, AnnotationBook.Of([a.ToEvent(), b.ToEvent(), b.ToRemoval(null, late)]).FingerprintUntil(late));
        Assert.NotEqual(both, AnnotationBook.Of([a.ToEvent(), (b with { To = b.To + TimeSpan.FromMinutes(1) }).ToEvent()]).FingerprintUntil(late));
        Assert.Equal(AnnotationBook.Of([a.ToEvent()]).FingerprintUntil(late), AnnotationBook.Of([a.ToEvent(), b.ToEvent()]).FingerprintUntil(Nine + TimeSpan.FromMinutes(15)));
    }

    [Fact]
    public void A_tubes_days_in_an_annotated_span_are_left_out_and_its_baseline_does_not_know_them()
    {
        // The sick week is the first: without the annotation it would be the baseline.
        var shop = new TubeShop().Work(0, 5, _ => 0.8).Work(7, 19, _ => 1);
        var plain = shop.History().DaysOf(1);
        shop.Services.Add(new Annotation(
            TubeShop.Machine, "1", AnnotationKind.Faulty, TubeShop.FirstDay, TubeShop.FirstDay + TimeSpan.FromDays(6), null, null, null, null).ToEvent());
        var annotated = shop.History();

        Assert.InRange(plain[^1].Value, 1.2, 1.3);
        Assert.All(annotated.DaysOf(1), day => Assert.InRange(day.Value, 0.98, 1.02));
        Assert.Equal(plain.Skip(5).Select(day => day.Day), annotated.DaysOf(1).Select(day => day.Day));
    }

    [Fact]
    public void The_tube_ages_in_an_annotated_span_too()
    {
        var shop = new TubeShop().Work(0, 12, _ => 1);
        var hours = shop.History().Tubes[0].BeamHours;
        shop.Services.Add(new Annotation(
            TubeShop.Machine, "1", AnnotationKind.Ignore, TubeShop.Morning(2), TubeShop.Morning(3), null, null, null, null).ToEvent());

        Assert.Equal(hours, shop.History().Tubes[0].BeamHours, 0.02);
    }

    [Fact]
    public void A_channels_days_know_nothing_of_an_annotated_span()
    {
        var samples = Enumerable.Range(0, 600).Select(minute => new Sample(Channel.AmbientHumidity, TubeShop.FirstDay + TimeSpan.FromMinutes(minute), minute is >= 100 and < 400 ? 90 : 50)).ToArray();
        var history = new ChannelHistory(Channel.AmbientHumidity, null, MonitorOptions.Default);
        history.Begin(new HistorySpan(TubeShop.Machine, samples[0].At, Instant.MaxValue, true));
        history.Take(new Annotation(
            TubeShop.Machine, "1", AnnotationKind.Ignore, TubeShop.FirstDay + TimeSpan.FromMinutes(100), TubeShop.FirstDay + TimeSpan.FromMinutes(400), null, null, null, null).ToEvent());
        history.Take(samples);
        history.End();

        Assert.Equal((50.0, 300), (history.Days.Single().Value, history.Days.Single().Count));
    }
}
