using LaserWatch.Configuration;

namespace LaserWatch.Cli;

/// <summary>Where a verb reaches the agent, at the outside broker or at the one inside it; and as whom.</summary>
/// <remarks>
/// As whom: the environment's LASERWATCH_USER, with its password in LASERWATCH_PASSWORD or in the file that
/// LASERWATCH_PASSWORD_FILE names, so that each person at a shared machine comes as himself; else <c>commands.user</c>; else the
/// agent's own user, or the one user of the embedded broker.
/// </remarks>
internal static class BrokerOf
{
    private const string UserVariable = "LASERWATCH_USER";
    private const string PasswordVariable = "LASERWATCH_PASSWORD";
    private const string PasswordFileVariable = "LASERWATCH_PASSWORD_FILE";

    /// <exception cref="CommandException">The embedded broker takes any free port, so nobody else can know it; or it asks for a name that nobody gave.</exception>
    public static ConfiguredBroker Clients(LaserWatchOptions options) => Clients(options, Environment.GetEnvironmentVariable);

    public static ConfiguredBroker Clients(LaserWatchOptions options, Func<string, string?> environment)
    {
        var broker = options.Broker;
        if (broker.Host is null)
            broker = Embedded(options);
        if (options.Commands is { CertificateFile: { } certificate, KeyFile: { } key })
            broker = broker with { Tls = broker.Tls with { CertificateFile = certificate, KeyFile = key, Section = "commands" } };
        if (environment(UserVariable) is { Length: > 0 } person)
        {
            return broker with
            {
                User = person,
                Password = environment(PasswordFileVariable) is { Length: > 0 } file ? new() { File = Path.GetFullPath(file) } : new() { Env = PasswordVariable },
                Login = $"the environment's {UserVariable} and {PasswordVariable}",
            };
        }

        if (options.Commands.User is { } user)
            return broker with { User = user, Password = options.Commands.Password, Login = "commands.user and commands.password" };
        if (broker.User is null && options.Broker.Host is null && options.EmbeddedBroker.Clients.Count > 0)
        {
            throw new CommandException(
                ExitCode.BadUsage,
                $"the embedded broker lets in named clients only (embeddedBroker.clients): say who you are by the environment's {UserVariable} and {PasswordVariable}, or by commands.user and commands.password.");
        }

        return broker;
    }

    private static ConfiguredBroker Embedded(LaserWatchOptions options)
    {
        var embedded = options.EmbeddedBroker;
        if (embedded.Port == 0)
            throw new CommandException(ExitCode.BadUsage, "embeddedBroker.port is 0, any free one: give it a number, so that others can find it.");
        return options.Broker with
        {
            Host = embedded.Address switch { "0.0.0.0" => "127.0.0.1", "::" => "::1", var address => address },
            Port = embedded.Port,
            User = embedded.User,
            Password = embedded.Password,
            Login = "embeddedBroker.user and embeddedBroker.password",

            // Its certificate is known here to the byte, whatever names it bears.
            Tls = embedded.Tls is { } tls ? new() { Enabled = true, ExactlyFile = tls.CertificateFile, Section = "commands" } : new(),
        };
    }
}
