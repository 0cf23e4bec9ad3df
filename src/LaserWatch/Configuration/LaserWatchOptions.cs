using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;
using LaserWatch.Alarms;
using LaserWatch.Delivery;
using LaserWatch.Diagnosis;
using LaserWatch.Health;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Payloads;
using LaserWatch.Proof;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>Everything that can be set in <c>laserwatch.json</c>. Every key may be left out.</summary>
public sealed record LaserWatchOptions : ICheckedOptions
{
    /// <summary>What holds where no file is given: the embedded broker on loopback, a store in <c>data/</c>, and no machine described.</summary>
    public static readonly LaserWatchOptions Default = new();

    /// <summary>Where editors find the schema that completes and checks this file; the agent itself does not read it.</summary>
    [JsonPropertyName("$schema")]
    public string? Schema { get; init; }

    /// <summary>An agent for training: what it stores, raises and sends is marked as training. So it is without this too where <c>broker.topicRoot</c> begins with <c>training/</c>.</summary>
    public bool Training { get; init; }

    /// <summary>The agent hears replayed recordings, and no real machine.</summary>
    [JsonIgnore]
    public bool IsTraining => Training || Broker.TopicRoot.StartsWith("training/", StringComparison.Ordinal);

    /// <summary>The MQTT broker that the sensors publish to.</summary>
    public ConfiguredBroker Broker { get; init; } = new();

    /// <summary>The agent's own MQTT broker, in use while <c>broker.host</c> is left out.</summary>
    public ConfiguredEmbeddedBroker EmbeddedBroker { get; init; } = new();

    /// <summary>Commands to the alarms: who may give them, and as whom the command line does.</summary>
    public CommandsOptions Commands { get; init; } = new();

    /// <summary>Where samples, events and alarms are kept, and for how long.</summary>
    public StoreOptions Store { get; init; } = new();

    /// <summary>The proof that what is kept was not altered afterwards.</summary>
    public EvidenceOptions Evidence { get; init; } = new();

    /// <summary>The agent's own log.</summary>
    public LogOptions Log { get; init; } = new();

    /// <summary>How the agent shows that it is well itself.</summary>
    public HealthOptions Health { get; init; } = new();

    /// <summary>What is taken from the broker, and what is not.</summary>
    public PayloadOptions Input { get; init; } = PayloadOptions.Default;

    /// <summary>File of the proven cuts, relative to the configuration file's folder. Left out: <c>jobs.json</c>, if it is there.</summary>
    [Required]
    public string JobsFile { get; init; } = "jobs.json";

    /// <summary>The records of <see cref="JobsFile"/>, in its order.</summary>
    [JsonIgnore]
    public IReadOnlyList<JobRecord> JobRecords { get; init; } = [];

    /// <summary>What a spoilt cut is diagnosed with.</summary>
    public DiagnosisOptions Diagnosis { get; init; } = new();

    /// <summary>The causes of <see cref="Diagnosis"/>' file; null where none is named and those built in hold.</summary>
    [JsonIgnore]
    public CauseModel? Causes { get; init; }

    /// <summary>When alarms come faster than one person can take them in, over all machines of the shop.</summary>
    public FloodOptions Flood { get; init; } = new();

    /// <summary>How alarms reach people and machines beyond MQTT.</summary>
    public DeliveryOptions Delivery { get; init; } = new();

    /// <summary>The rules, for all machines of the shop.</summary>
    public MonitorOptions Rules { get; init; } = MonitorOptions.Default;

    /// <summary>The machines by name. A machine that is not described here is taken in when its first sample comes, and watched by <c>rules</c>.</summary>
    [KeyPattern("^[a-z0-9-]{1,32}$", "1 to 32 of a-z, 0-9 and '-'")]
    public IReadOnlyDictionary<string, MachineOptions> Machines { get; init; } = new Dictionary<string, MachineOptions>();

    /// <summary>The rules in force for a machine, described here or not. What is known of its tube goes before the rules.</summary>
    public MonitorOptions RulesOf(string machine)
    {
        if (!Machines.TryGetValue(machine, out var described))
            return Rules;
        var rules = described.Rules ?? Rules;
        if (described.Tube is not { } tube)
            return rules;
        return rules with
        {
            TubeCurrent = rules.TubeCurrent with { RatedCurrentMilliamps = tube.RatedCurrentMilliamps ?? rules.TubeCurrent.RatedCurrentMilliamps },
            TubeLife = rules.TubeLife with
            {
                RatedHours = tube.RatedHours ?? rules.TubeLife.RatedHours,
                RatedMonths = tube.RatedMonths ?? rules.TubeLife.RatedMonths,
                Installed = tube.Installed is { } day ? Instant.From(new DateTimeOffset(day.ToDateTime(TimeOnly.MinValue), TimeSpan.Zero)) : rules.TubeLife.Installed,
                MeterAtInstallHours = tube.MeterAtInstallHours ?? rules.TubeLife.MeterAtInstallHours,
            },
        };
    }

    /// <summary>The shop's rules without its machines and proven cuts: a training case has its own, which may bear the same names.</summary>
    public LaserWatchOptions OfNoMachine() => this with { JobRecords = [], Machines = new Dictionary<string, MachineOptions>() };

    /// <summary>What the messages of the described sensors mean, machine by machine in the order of the file.</summary>
    public IReadOnlyList<TopicRule> TopicRules() =>
        [.. Machines.SelectMany(machine => machine.Value.Sensors.Select(sensor => sensor.ToRule(machine.Key, Broker.TopicRoot)))];

    /// <summary>The units of channels that are not canonical, by channel: what the first sensor of a channel gives is the channel's own.</summary>
    public IReadOnlyDictionary<string, string> DeclaredUnits()
    {
        var units = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var sensor in Machines.Values.SelectMany(machine => machine.Sensors))
        {
            if (sensor is { Channel: { } channel, GivenUnit: { } unit } && Channel.Canonical.All(c => c.Name != channel))
                units.TryAdd(channel, unit);
        }

        return units;
    }

    /// <summary>What to subscribe to: LaserWatch's own topics, and those of sensors and of <c>broker.subscribe</c> that these do not cover.</summary>
    public IReadOnlyList<string> Subscriptions()
    {
        // A filter within another would bring messages twice from brokers that deliver for each subscription.
        var filters = new List<string> { $"{Broker.TopicRoot}/+/+" };
        foreach (var filter in TopicRules().Select(rule => rule.Topic).Concat(Broker.Subscribe))
        {
            if (!filters.Exists(wide => TopicFilter.Covers(wide, filter)))
            {
                filters.RemoveAll(narrow => TopicFilter.Covers(filter, narrow));
                filters.Add(filter);
            }
        }

        return filters;
    }

    public IEnumerable<OptionMistake> Mistakes()
    {
        var units = DeclaredUnits();
        foreach (var (name, machine) in Machines)
        {
            for (var i = 0; i < machine.Sensors.Count; i++)
            {
                foreach (var wrong in machine.Sensors[i].ToRule(name, Broker.TopicRoot).Mistakes(Broker.TopicRoot, units))
                    yield return OptionMistake.From($"machines.{name}.sensors[{i}]", wrong);
            }
        }

        foreach (var wrong in TopicRule.Conflicts(TopicRules()))
            yield return OptionMistake.From("machines", wrong);
    }

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
            EmbeddedBroker = EmbeddedBroker with
            {
                Password = Placed(EmbeddedBroker.Password),
                Clients = [.. EmbeddedBroker.Clients.Select(client => client with { Password = Placed(client.Password) })],
                Tls = EmbeddedBroker.Tls is not { } tls ? null : tls with
                {
                    CertificateFile = At(tls.CertificateFile)!,
                    KeyFile = At(tls.KeyFile)!,
                    ClientCaFile = At(tls.ClientCaFile),
                },
            },
            Commands = Commands with
            {
                Password = Placed(Commands.Password),
                CertificateFile = At(Commands.CertificateFile),
                KeyFile = At(Commands.KeyFile),
            },
            Store = Store with
            {
                Path = At(Store.Path)!,
                Training = IsTraining,
                Influx = Store.Influx is not { } influx ? null : influx with { CaFile = At(influx.CaFile), Token = Placed(influx.Token) },
            },
            Evidence = Evidence with { TimestampCaFile = At(Evidence.TimestampCaFile) },
            Log = Log with { Folder = At(Log.Folder) },
            Input = Input with { Root = Broker.TopicRoot },
            JobsFile = At(JobsFile)!,
            Delivery = Delivery.RelativeTo(folder),
            Diagnosis = Diagnosis with { Causes = At(Diagnosis.Causes) },
        };

        string? At(string? path) => path is null ? null : Path.GetFullPath(path, folder);
        Secret? Placed(Secret? secret) => secret is null ? null : secret with { File = At(secret.File) };
    }
}
