using System.ComponentModel.DataAnnotations;
using LaserWatch.Monitoring;

namespace LaserWatch.Configuration;

/// <summary>One laser cutter.</summary>
public sealed record MachineOptions : ICheckedOptions
{
    /// <summary>Make and model of the machine, in your words, for the evidence report; null: not stated there.</summary>
    [StringLength(200, MinimumLength = 1)]
    public string? Model { get; init; }

    /// <summary>Name and place of the shop, for the evidence report; null: not stated there.</summary>
    [StringLength(200, MinimumLength = 1)]
    public string? Shop { get; init; }

    /// <summary>The tube that is in now; null: nothing is known of it, and the rules have only their own ratings.</summary>
    public TubeOptions? Tube { get; init; }

    /// <summary>Sensors that need more than LaserWatch's own topics and canonical units. Others need no entry.</summary>
    public IReadOnlyList<SensorOptions> Sensors { get; init; } = [];

    /// <summary>What this machine's rules have otherwise than <c>rules</c> of the whole shop: only the keys that differ are written. Null: nothing.</summary>
    /// <remarks>In memory it is whole: the shop's rules with this machine's laid over them.</remarks>
    public MonitorOptions? Rules { get; init; }

    public IEnumerable<OptionMistake> Mistakes()
    {
        var fedBy = new Dictionary<string, int>(StringComparer.Ordinal);
        for (var i = 0; i < Sensors.Count; i++)
        {
            foreach (var channel in Sensors[i].Channels)
            {
                if (!fedBy.TryAdd(channel, i))
                    yield return new($"sensors[{i}]", $"the channel '{channel}' is fed by sensors[{fedBy[channel]}] already", "one channel takes one sensor: give this one another channel name");
            }
        }
    }
}
