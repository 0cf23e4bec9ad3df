using System.CommandLine;
using LaserWatch.Mqtt;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch password</c>: from a password to the line that stands for it in the configuration.</summary>
public static class PasswordCommand
{
    private const int Longest = 1024;

    public static Command Create()
    {
        var command = new Command("password", "Reads a password from standard input, and prints its hash for embeddedBroker.clients[].passwordHash.");
        command.SetAction((parsed, stop) => RunAsync(Console.In, parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    internal static async Task<int> RunAsync(TextReader input, TextWriter output, TextWriter error, CancellationToken stop)
    {
        if (!Console.IsInputRedirected)
            await error.WriteAsync("Password (it is shown): ");
        if (await input.ReadLineAsync(stop) is not { Length: > 0 and <= Longest } password)
            throw new CommandException(ExitCode.BadUsage, $"no password came on standard input, or one longer than {Longest} characters; type it, or give it as in: laserwatch password < FILE.");
        output.WriteLine(PasswordHash.Of(password).ToString());
        return (int)ExitCode.Done;
    }
}
