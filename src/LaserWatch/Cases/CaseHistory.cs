using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>How much of the past a case needs before its watched part, so that the rules know what is usual.</summary>
internal static class CaseHistory
{
    /// <summary>Further back nothing is looked for: what was usual then need not be so now.</summary>
    public static readonly TimeSpan Furthest = TimeSpan.FromDays(60);

    private static readonly TimeSpan Step = TimeSpan.FromDays(1);

    /// <summary>Goes back until so much beam time lies before the watched part, over nights and Sundays.</summary>
    /// <param name="beam">In minutes in which the beam was on; where no beam is told, in minutes of which there are samples.</param>
    /// <returns>Where the recording begins, and how much of it there is, which may be less.</returns>
    public static async Task<(Instant From, TimeSpan Beam)> BeginAsync(
        ITelemetryStore store, string machine, Instant watchFrom, TimeSpan beam, CancellationToken stop)
    {
        var channels = await store.ReadChannelsAsync(machine, new ChannelTable(), stop).ConfigureAwait(false);
        var (found, from) = (TimeSpan.Zero, watchFrom);
        if (channels.Count == 0)
            return (from, found);
        var channel = channels.Contains(Channel.Lasing) ? Channel.Lasing : channels[0];
        for (var end = watchFrom; found < beam && watchFrom - end < Furthest; end -= Step)
        {
            var minutes = new List<Instant>();
            await foreach (var minute in store.ReadRollUpsAsync(machine, channel, RollUpSpan.Minute, end - Step, end, stop).ConfigureAwait(false))
            {
                if (channel != Channel.Lasing || minute.Max >= 0.5)
                    minutes.Add(minute.Start);
            }

            for (var i = minutes.Count - 1; i >= 0 && found < beam; i--)
            {
                found += TimeSpan.FromMinutes(1);
                from = minutes[i] < from ? minutes[i] : from;
            }
        }

        return (from, found);
    }
}
