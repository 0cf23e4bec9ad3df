using System.Runtime.InteropServices;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

/// <summary>What somebody who listens takes for so at a place in a recording: the runs under way, and what each channel last said.</summary>
internal sealed class ShownState
{
    /// <summary>An older value is no state: the sensor may have been off since.</summary>
    private static readonly TimeSpan Fresh = TimeSpan.FromMinutes(10);

    private readonly SortedDictionary<string, JobEvent> _runs = new(StringComparer.Ordinal);
    private readonly SortedDictionary<string, Dictionary<Channel, (Instant At, double Value)>> _values = new(StringComparer.Ordinal);

    /// <summary>The runs that were begun and not ended, by machine.</summary>
    public IReadOnlyCollection<JobEvent> Runs => _runs.Values;

    public void Take(JobEvent run)
    {
        if (run.Kind == JobEventKind.Start)
            _runs[run.Machine] = run;
        else
            _runs.Remove(run.Machine);
    }

    public void Take(RecordingEvent e)
    {
        if (e.JobRun is { } run)
            Take(run);
        if (e.Values.Length == 0)
            return;
        if (!_values.TryGetValue(e.Machine, out var channels))
            _values[e.Machine] = channels = [];
        foreach (var value in e.Values)
        {
            ref var newest = ref CollectionsMarshal.GetValueRefOrAddDefault(channels, value.Channel, out var known);
            if (!known || newest.At <= e.At)
                newest = (e.At, value.Value);
        }
    }

    /// <summary>What the channels last said before a place, by machine.</summary>
    public IEnumerable<(string Machine, ChannelValue Value)> ValuesAt(Instant place) =>
        from machine in _values
        from channel in machine.Value.OrderBy(channel => channel.Key.Index)
        where place - channel.Value.At <= Fresh
        select (machine.Key, new ChannelValue(channel.Key, channel.Value.Value));
}
