using System.ComponentModel.DataAnnotations;
using System.Net;

namespace LaserWatch.Configuration;

/// <summary>The agent's own MQTT broker, for shops without one. In use only while <c>broker.host</c> is left out.</summary>
/// <remarks>It keeps no sessions over a restart: for sensors that publish at QoS 1 and must lose nothing, run a broker beside the agent.</remarks>
public sealed record ConfiguredEmbeddedBroker : ICheckedOptions
{
    /// <summary>The address to listen on: 127.0.0.1 for this machine only; the address of a network card, or 0.0.0.0, for sensors on the network, which then need user and password, and TLS.</summary>
    public string Address { get; init; } = "127.0.0.1";

    /// <summary>TCP port to listen on; 0: any free one.</summary>
    [Range(0, 65535)]
    public int Port { get; init; } = 1883;

    /// <summary>One user name for clients that may do all but speak as the agent; null: none is asked for, unless there are <c>clients</c>.</summary>
    public string? User { get; init; }

    /// <summary>Where the password of <c>user</c> stands; null: none is asked for.</summary>
    public Secret? Password { get; init; }

    /// <summary>Clients by name, each with rights of its own. Given any, nobody comes in without a name.</summary>
    public IReadOnlyList<ConfiguredClient> Clients { get; init; } = [];

    /// <summary>The broker's certificate, which encrypts all connections; null: they go in clear.</summary>
    public ConfiguredServerTls? Tls { get; init; }

    /// <summary>Take passwords in clear beyond this machine. Whoever can listen on that network then reads the passwords, and can publish samples and commands with them: only for a network that is the shop's own, with sensors that cannot do TLS.</summary>
    public bool AllowPlain { get; init; }

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (!IPAddress.TryParse(Address, out var address))
            yield return new("address", $"'{Address}' is not an IP address", "write one such as \"127.0.0.1\" or \"0.0.0.0\"");
        if (string.IsNullOrEmpty(User) != Password is null)
            yield return new(User is null ? "password" : "user", "user and password go together", "give both, or neither");
        else if (address is not null && Exposure(address) is { } exposed)
            yield return exposed;
        for (var i = 0; i < Clients.Count; i++)
        {
            if (Clients[i].User == User || Clients.Take(i).Any(c => c.User == Clients[i].User))
                yield return new($"clients[{i}].user", $"'{Clients[i].User}' stands here twice", "give each client a name of its own");
        }
    }

    /// <summary>What the network could do through this address; null where nothing.</summary>
    internal OptionMistake? Exposure(IPAddress address)
    {
        if (IPAddress.IsLoopback(address))
            return null;
        if (Password is null && Clients.Count == 0)
            return new("address", $"'{Address}' lets the whole network in, and no password is asked for", "add 'clients', or 'user' and 'password', or listen on \"127.0.0.1\"");
        return Tls is null && !AllowPlain
            ? new("address", $"'{Address}' is beyond this machine, and passwords would go there in clear", "add 'tls', or, on a network that nobody else can listen on, \"allowPlain\": true")
            : null;
    }
}

/// <summary>TLS of the agent's own broker: 1.2 or newer.</summary>
public sealed record ConfiguredServerTls
{
    /// <summary>The broker's certificate (PEM), with those between it and its authority after it. A file that is replaced counts from the next connection on.</summary>
    public required string CertificateFile { get; init; }

    /// <summary>The private key (PEM) of the certificate, readable for the agent's user alone.</summary>
    public required string KeyFile { get; init; }

    /// <summary>Certificates (PEM) that may vouch for clients; each client must then show one of theirs, beside its password. Null: none is asked for.</summary>
    public string? ClientCaFile { get; init; }
}
