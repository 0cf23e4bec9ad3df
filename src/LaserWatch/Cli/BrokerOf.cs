using LaserWatch.Configuration;

namespace LaserWatch.Cli;

/// <summary>Where a verb reaches the agent: at the outside broker, or at the one inside it.</summary>
internal static class BrokerOf
{
    /// <exception cref="CommandException">The embedded broker takes any free port, so nobody else can know it.</exception>
    public static ConfiguredBroker Clients(LaserWatchOptions options)
    {
        if (options.Broker.Host is not null)
            return options.Broker;
        var embedded = options.EmbeddedBroker;
        if (embedded.Port == 0)
            throw new CommandException(ExitCode.BadUsage, "embeddedBroker.port is 0, any free one: give it a number, so that others can find it.");
        return options.Broker with
        {
            Host = embedded.Address switch { "0.0.0.0" => "127.0.0.1", "::" => "::1", var address => address },
            Port = embedded.Port,
            User = embedded.User,
            Password = embedded.Password,
        };
    }
}
