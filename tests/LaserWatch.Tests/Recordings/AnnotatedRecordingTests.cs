using LaserWatch.Fakes;
using LaserWatch.History;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public sealed class AnnotatedRecordingTests
{
    private static readonly Instant Nine = Instant.From(new DateTimeOffset(2026, 3, 9, 9, 0, 0, TimeSpan.Zero));

    private static Annotation Span(string id, int from, int to) => new(
        "bay1", id, AnnotationKind.Faulty, Nine + TimeSpan.FromMinutes(from), Nine + TimeSpan.FromMinutes(to), null, null, null, null);

    private static async Task<List<RecordingEvent>> ServicesAsync(int fromMinute, params Annotation[] annotations)
    {
        await using var store = new InMemoryTelemetryStore();
        var batch = new StoreBatch();
        batch.Samples.AddRange(Enumerable.Range(0, 60).Select(minute => ("bay1", new Sample(Channel.AirPressure, Nine + TimeSpan.FromMinutes(minute), 210))));
        batch.ServiceEvents.AddRange(annotations.Select(a => a.ToEvent()));
        await store.AppendAsync(batch, CancellationToken.None);
        using var written = new MemoryStream();
        await RecordingWriter.WriteAsync(store, "bay1", Nine + TimeSpan.FromMinutes(fromMinute), Instant.MaxValue, written, CancellationToken.None);
        using var reader = new RecordingReader(new MemoryStream(written.ToArray()), new ChannelTable());
        List<RecordingEvent> services = [];
        while (reader.Read() is { } e)
        {
            if (e.Kind == RecordingEventKind.Service)
                services.Add(new RecordingEvent { At = e.At, Kind = e.Kind, Service = e.Service });
        }

        return services;
    }

    [Fact]
    public async Task A_span_under_way_at_the_beginning_is_told_there_with_its_own_begin()
    {
        var (over, underWay, later) = (Span("1", 0, 5), Span("2", 5, 30), Span("3", 20, 25));

        var services = await ServicesAsync(10, over, underWay, later);

        Assert.Equal([underWay, later], services.Select(e => Annotation.Of(e.Service!)));
        Assert.Equal(Nine + TimeSpan.FromMinutes(10), services[0].At);
    }

    [Fact]
    public async Task No_trainee_is_sent_what_the_matter_was()
    {
        var annotation = Assert.Single(await ServicesAsync(0, Span("1", 5, 30)));

        Assert.False(RecordingPublisher.HasTopic(annotation));
    }
}
