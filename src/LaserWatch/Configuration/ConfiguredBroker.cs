using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;
using LaserWatch.Payloads;

namespace LaserWatch.Configuration;

/// <summary>The MQTT broker that the sensors publish to. Without a host, the agent is the broker itself: see <c>embeddedBroker</c>.</summary>
public sealed record ConfiguredBroker : ICheckedOptions
{
    /// <summary>Name or address of the broker; null or left out: the embedded broker.</summary>
    public string? Host { get; init; }

    /// <summary>TCP port of the broker. 1883 is the standard's port for plain connections, 8883 for TLS.</summary>
    [Range(1, 65535)]
    public int Port { get; init; } = 1883;

    /// <summary>The name of the agent's session at the broker. Two agents at one broker need two names: with one they throw each other out.</summary>
    [StringLength(128, MinimumLength = 1)]
    public string ClientId { get; init; } = "laserwatch";

    /// <summary>User name at the broker; null: none.</summary>
    public string? User { get; init; }

    /// <summary>Where the password stands; null: none.</summary>
    public Secret? Password { get; init; }

    /// <summary>Encryption, and who proves to be who.</summary>
    public ConfiguredTls Tls { get; init; } = new();

    /// <summary>First levels of all of LaserWatch's own topics, in and out. Change it only where the sensors' topics begin otherwise.</summary>
    [RegularExpression("[^/+#]+(/[^/+#]+)*", ErrorMessage = "use levels parted by '/', without '+' and '#', and no '/' at either end")]
    [StringLength(128)]
    public string TopicRoot { get; init; } = "laserwatch";

    /// <summary>Further topic filters to subscribe to. Seldom needed: the filters follow from the machines' sensors. A wide one such as <c>#</c> costs processor time for messages that mean nothing here.</summary>
    public IReadOnlyList<string> Subscribe { get; init; } = [];

    /// <summary>Hours the broker keeps messages for an agent that is away. Higher: a longer outage loses no sample, and the broker holds more in memory. Lower: samples of a long outage are lost. 0: nothing is kept.</summary>
    [Range(0, 24 * 365)]
    public int SessionExpiryHours { get; init; } = 24 * 7;

    /// <summary>Messages at QoS 1 the broker may have under way before the agent has stored them. Higher: more per disk write, and more sent again after a crash. Lower: a slow disk holds the stream up sooner.</summary>
    [Range(1, 65535)]
    public int ReceiveMaximum { get; init; } = 500;

    /// <summary>Seconds between signs of life on a silent connection. A dead connection is noticed after about one and a half times this. Lower: sooner, with a little more traffic.</summary>
    [Range(5, 3600)]
    public int KeepAliveSeconds { get; init; } = 30;

    /// <summary>The keys that user and password came from, for the one who has to mend them.</summary>
    [JsonIgnore]
    internal string Login { get; init; } = "broker.user and broker.password";

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (Host is { Length: 0 })
            yield return new("host", "an empty text is no host", "write the broker's name or address, or leave the key out for the embedded broker");
        if (Password is not null && User is null)
            yield return new("password", "a password without a user", "add the key 'user'");
        for (var i = 0; i < Subscribe.Count; i++)
        {
            if (TopicFilter.Mistake(Subscribe[i]) is { } wrong)
                yield return OptionMistake.From($"subscribe[{i}]", wrong);
        }
    }
}

/// <summary>TLS towards the broker.</summary>
public sealed record ConfiguredTls : ICheckedOptions
{
    /// <summary>Encrypts the connection. The port is not changed by it: brokers mostly listen for TLS on 8883.</summary>
    public bool Enabled { get; init; }

    /// <summary>Certificates (PEM) that may vouch for the broker; null: those of the operating system.</summary>
    public string? CaFile { get; init; }

    /// <summary>The agent's own certificate (PEM), where the broker asks for one; null: none.</summary>
    public string? CertificateFile { get; init; }

    /// <summary>The private key (PEM) of the agent's certificate; null: none.</summary>
    public string? KeyFile { get; init; }

    /// <summary>The broker's certificate itself, where it is known: the embedded broker's, to its own commands.</summary>
    [JsonIgnore]
    internal string? ExactlyFile { get; init; }

    /// <summary>Where the certificate and key are configured.</summary>
    [JsonIgnore]
    internal string Section { get; init; } = "broker.tls";

    public IEnumerable<OptionMistake> Mistakes()
    {
        if ((CertificateFile is null) != (KeyFile is null))
            yield return new(CertificateFile is null ? "keyFile" : "certificateFile", "a certificate and its key go together", "give both 'certificateFile' and 'keyFile', or neither");
        if (!Enabled && (CaFile ?? CertificateFile ?? KeyFile) is not null)
            yield return new("", "files for TLS are named, but TLS is off", "add \"enabled\": true, or take the files out");
    }
}
