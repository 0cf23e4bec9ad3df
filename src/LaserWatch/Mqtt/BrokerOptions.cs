using System.ComponentModel.DataAnnotations;

namespace LaserWatch.Mqtt;

/// <summary>How to reach an outside MQTT broker.</summary>
public sealed record BrokerOptions
{
    /// <summary>Name or address of the broker.</summary>
    public string Host { get; init; } = "localhost";

    [Range(1, 65535)]
    public int Port { get; init; } = 1883;

    /// <summary>Names our session at the broker: keep it, or what waits there under the old name is never fetched.</summary>
    public string ClientId { get; init; } = "laserwatch";

    public string? User { get; init; }

    public string? Password { get; init; }

    /// <summary>Null: no encryption.</summary>
    public BrokerTlsOptions? Tls { get; init; }

    /// <summary>First level of every topic of the contract.</summary>
    public string TopicRoot { get; init; } = "laserwatch";

    /// <summary>How long the broker keeps QoS 1 messages for us while we are away, in hours (MQTT 5).</summary>
    [Range(1, 8760)]
    public int SessionExpiryHours { get; init; } = 168;

    /// <summary>
    /// QoS 1 messages on their way to the store at one time. Fewer slow the flow down (this number per commit at most); more
    /// are sent again after a crash.
    /// </summary>
    [Range(1, 65535)]
    public int ReceiveMaximum { get; init; } = 1000;

    /// <summary>After one and a half times this silence the broker calls us dead, in seconds.</summary>
    [Range(5, 3600)]
    public int KeepAliveSeconds { get; init; } = 30;
}

/// <summary>TLS to the broker. Files are PEM.</summary>
public sealed record BrokerTlsOptions
{
    /// <summary>The certificate authority that vouches for the broker; null: those the machine trusts.</summary>
    public string? CaFile { get; init; }

    /// <summary>Our own certificate, where the broker asks for one.</summary>
    public string? CertificateFile { get; init; }

    /// <summary>The private key to <see cref="CertificateFile"/>, not encrypted.</summary>
    public string? KeyFile { get; init; }
}
