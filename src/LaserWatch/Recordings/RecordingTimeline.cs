using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>What a person steps to: the start or end of a run, a service, an alarm that was recorded as it rose.</summary>
public readonly record struct TimelineMark(Instant At, string Words);

/// <summary>A recording looked through once before it is played: where it begins and ends, and what happens in it.</summary>
/// <remarks>Job records have their own, older times and are no part of the span.</remarks>
public sealed class RecordingTimeline
{
    private readonly List<TimelineMark> _marks = [];
    private Instant _place;

    private RecordingTimeline()
    {
    }

    /// <summary>Null where the recording holds nothing that is played.</summary>
    public Instant? First { get; private set; }

    public Instant Last { get; private set; }

    /// <summary>The time it takes to play at 1x: what a clock leaps over is not in it.</summary>
    public TimeSpan Length { get; private set; }

    /// <summary>In the order of the recording.</summary>
    public IReadOnlyList<TimelineMark> Marks => _marks;

    public required RecordingCounts Counts { get; init; }

    /// <summary>Reads to the end, or to where the recording breaks off: playing it meets the same fault, and tells it.</summary>
    public static RecordingTimeline Of(RecordingReader reader, CancellationToken stop)
    {
        var timeline = new RecordingTimeline { Counts = reader.Counts };
        try
        {
            while (reader.Read() is { } e)
            {
                stop.ThrowIfCancellationRequested();
                timeline.Add(e);
            }
        }
        catch (Exception e) when (e is IOException or InvalidDataException)
        {
            // What stands before the fault can be played.
        }

        return timeline;
    }

    /// <summary>The first mark after a time; null where there is none.</summary>
    public TimelineMark? After(Instant at)
    {
        TimelineMark? next = null;
        foreach (var mark in _marks)
        {
            if (mark.At > at && (next is not { } sooner || mark.At < sooner.At))
                next = mark;
        }

        return next;
    }

    private void Add(RecordingEvent e)
    {
        if (e.Kind == RecordingEventKind.JobRecord)
            return;
        if (WordsOf(e) is { } words)
            _marks.Add(new(e.At, words));
        if (!RecordingPublisher.HasTopic(e))
            return;
        if (First is not { } first)
        {
            First = Last = _place = e.At;
            return;
        }

        if (PlayClock.IsLeap(_place, e.At))
        {
            _place = e.At;
        }
        else if (e.At > _place)
        {
            Length += e.At - _place;
            _place = e.At;
        }

        First = first < e.At ? first : e.At;
        Last = Last > e.At ? Last : e.At;
    }

    private static string? WordsOf(RecordingEvent e) => e.Kind switch
    {
        RecordingEventKind.JobRun when e.JobRun!.Kind == JobEventKind.Start => $"run start{(e.JobRun.Job is { } job ? $" {job}" : "")} ({e.Machine})",
        RecordingEventKind.JobRun => $"run end ({e.Machine})",
        RecordingEventKind.Service when RecordingPublisher.HasTopic(e) => $"service: {e.Service!.Part} {e.Service.Action} ({e.Machine})",
        RecordingEventKind.Alarm when e.Alarm!.State == AlarmState.Unacknowledged => $"alarm {e.Alarm.Condition}, {e.Alarm.Priority.Name()} ({e.Machine})",
        _ => null,
    };
}
