using System.ComponentModel.DataAnnotations;
using System.Net;

namespace LaserWatch.Configuration;

/// <summary>The agent's own MQTT broker, for shops without one. In use only while <c>broker.host</c> is left out.</summary>
/// <remarks>It keeps no sessions over a restart: for sensors that publish at QoS 1 and must lose nothing, run a broker beside the agent.</remarks>
public sealed record ConfiguredEmbeddedBroker
{
    /// <summary>The address to listen on: 127.0.0.1 for this machine only; the address of a network card, or 0.0.0.0, for sensors on the network, which then need user and password.</summary>
    public string Address { get; init; } = "127.0.0.1";

    /// <summary>TCP port to listen on; 0: any free one.</summary>
    [Range(0, 65535)]
    public int Port { get; init; } = 1883;

    /// <summary>User name that clients must give; null: none is asked for.</summary>
    public string? User { get; init; }

    /// <summary>Where the password that clients must give stands; null: none is asked for.</summary>
    public Secret? Password { get; init; }

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (!IPAddress.TryParse(Address, out var address))
            yield return new("address", $"'{Address}' is not an IP address", "write one such as \"127.0.0.1\" or \"0.0.0.0\"");
        if (string.IsNullOrEmpty(User) != Password is null)
            yield return new(User is null ? "password" : "user", "user and password go together", "give both, or neither");
        else if (address is not null && !IPAddress.IsLoopback(address) && Password is null)
            yield return new("address", $"'{Address}' lets the whole network in, and no password is asked for", "add 'user' and 'password', or listen on \"127.0.0.1\"");
    }
}
