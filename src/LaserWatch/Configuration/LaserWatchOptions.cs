using System.Text.Json.Serialization;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Storage;

namespace LaserWatch.Configuration;

/// <summary>Everything that can be set in <c>laserwatch.json</c>. Every key may be left out.</summary>
public sealed record LaserWatchOptions
{
    /// <summary>What holds where no file is given: the embedded broker on loopback, a store in <c>data/</c>, and no machine described.</summary>
    public static readonly LaserWatchOptions Default = new();

    /// <summary>Where editors find the schema that completes and checks this file; the agent itself does not read it.</summary>
    [JsonPropertyName("$schema")]
    public string? Schema { get; init; }

    /// <summary>The MQTT broker that the sensors publish to.</summary>
    public BrokerOptions Broker { get; init; } = new();

    /// <summary>The agent's own MQTT broker, in use while <c>broker.host</c> is left out.</summary>
    public EmbeddedBrokerOptions EmbeddedBroker { get; init; } = new();

    /// <summary>Where samples, events and alarms are kept, and for how long.</summary>
    public StoreOptions Store { get; init; } = new();

    /// <summary>The agent's own log.</summary>
    public LogOptions Log { get; init; } = new();

    /// <summary>File of the proven cuts, relative to the configuration file's folder. Left out: <c>jobs.json</c>, if it is there.</summary>
    public string JobsFile { get; init; } = "jobs.json";

    /// <summary>The records of <see cref="JobsFile"/>, in its order.</summary>
    [JsonIgnore]
    public IReadOnlyList<JobRecord> JobRecords { get; init; } = [];

    /// <summary>The rules, for all machines of the shop.</summary>
    public MonitorOptions Rules { get; init; } = MonitorOptions.Default;

    /// <summary>The machines by name. A machine that is not described here is taken in when its first sample comes, and watched by <c>rules</c>.</summary>
    [KeyPattern("^[a-z0-9-]{1,32}$", "1 to 32 of a-z, 0-9 and '-'")]
    public IReadOnlyDictionary<string, MachineOptions> Machines { get; init; } = new Dictionary<string, MachineOptions>();

    /// <summary>The rules in force for a machine, described here or not.</summary>
    public MonitorOptions RulesOf(string machine) => Machines.TryGetValue(machine, out var described) && described.Rules is { } own ? own : Rules;

    /// <summary>The same, with every relative path made absolute.</summary>
    internal LaserWatchOptions RelativeTo(string folder)
    {
        return this with
        {
            Broker = Broker with
            {
                Password = Placed(Broker.Password),
                Tls = Broker.Tls with
                {
                    CaFile = At(Broker.Tls.CaFile),
                    CertificateFile = At(Broker.Tls.CertificateFile),
                    KeyFile = At(Broker.Tls.KeyFile),
                },
            },
            EmbeddedBroker = EmbeddedBroker with { Password = Placed(EmbeddedBroker.Password) },
            Store = Store with { Path = At(Store.Path)! },
            Log = Log with { Folder = At(Log.Folder) },
            JobsFile = At(JobsFile)!,
        };

        string? At(string? path) => path is null ? null : Path.GetFullPath(path, folder);
        Secret? Placed(Secret? secret) => secret is null ? null : secret with { File = At(secret.File) };
    }
}
