using System.ComponentModel.DataAnnotations;
using System.Net;
using LaserWatch.Configuration;

namespace LaserWatch.Health;

/// <summary>How the agent shows that it is well: pages over HTTP, metrics, heartbeats. None of it can hold up the watch.</summary>
/// <remarks>The pages <c>/agent/judges</c>, <c>/agent/works</c> and <c>/metrics</c> can be read by whoever reaches the port; they hold no sample and change nothing.</remarks>
public sealed record HealthOptions : ICheckedOptions
{
    /// <summary>False: no pages, no metrics, no heartbeat, no sign of life. It spares a few MB of memory; that nothing is watched any more is then seen by nobody.</summary>
    public bool Enabled { get; init; } = true;

    /// <summary>The address the pages listen on: 127.0.0.1 for this machine only; the address of a network card, or 0.0.0.0, lets the network read them.</summary>
    public string Address { get; init; } = "127.0.0.1";

    /// <summary>TCP port of the pages; 0: any free one, which the log then names. Default 18830. Where another program has it, the agent says so and goes on without pages.</summary>
    [Range(0, 65535)]
    public int Port { get; init; } = 18830;

    /// <summary>Seconds without a sign from the pipeline, or within one write to the store, that count as stuck. Default 30. Lower: seen sooner, and a busy small computer is called stuck. Higher: the reverse.</summary>
    [Range(5, 3600)]
    public double StuckAfterSeconds { get; init; } = 30;

    /// <summary>Seconds between two heartbeats on <c>laserwatch/_agent/heartbeat</c>. Default 10; 0: none. Lower: its silence tells sooner, with more traffic.</summary>
    [Range(0, 3600)]
    public double HeartbeatSeconds { get; init; } = 10;

    /// <summary>A sign of life for an outside watcher, who raises the alarm when it stays away.</summary>
    public SignOfLifeOptions SignOfLife { get; init; } = new();

    /// <summary>Metrics sent to a collector. What <c>/metrics</c> shows needs none of it.</summary>
    public OtlpOptions Otlp { get; init; } = new();

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (!IPAddress.TryParse(Address, out _))
            yield return new("address", $"'{Address}' is not an IP address", "write one such as \"127.0.0.1\" or \"0.0.0.0\"");
    }
}
