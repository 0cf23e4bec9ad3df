using System.CommandLine;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Proof;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch verify</c>: whether a recording or report is what the machine's log sealed.</summary>
public static class VerifyCommand
{
    private const string Text = "text", Json = "json";

    public static Command Create()
    {
        var file = new Argument<string>("FILE") { Description = "A recording, .lp or .lp.gz, or a report, .html." };
        var against = new Option<string?>("--against")
        {
            Description = "An earlier recording or report of the same machine: the log must be a continuation of the one it carries.",
            HelpName = "FILE",
        };
        var key = new Option<string?>("--key")
        {
            Description = "The fingerprint of the key that must have signed, as its owner told it to you, or the first 16 or more of its digits.",
            HelpName = "FINGERPRINT",
        };
        var authority = new Option<string?>("--authority")
        {
            Description = "Certificates (PEM) that may vouch for the time-stamping authority.",
            HelpName = "FILE",
        };
        var format = new Option<string>("--format") { Description = "text, for a person, or json.", DefaultValueFactory = _ => Text };
        format.AcceptOnlyFromAmong(Text, Json);
        var command = new Command("verify", "Checks a report's or recording's proof of integrity.") { file, against, key, authority, format };
        command.SetAction(parsed =>
        {
            var demands = new VerificationDemands(
                ReadKey(parsed.GetValue(key)), ReadEarlier(parsed.GetValue(against)), ReadAuthorities(parsed.GetValue(authority)));
            var path = parsed.GetRequiredValue(file);
            var report = Read(path, () => FileVerifier.Verify(path, demands));
            var output = parsed.InvocationConfiguration.Output;
            if (parsed.GetValue(format) == Json)
                output.WriteLine(VerificationJson.Write(report));
            else
                VerificationText.Print(report, output);
            return (int)(report.IsWhole ? ExitCode.Done : ExitCode.FoundWanting);
        });
        return command;
    }

    private static T Read<T>(string path, Func<T> read)
    {
        try
        {
            return read();
        }
        catch (Exception e) when (e is IOException or InvalidDataException or UnauthorizedAccessException or NotSupportedException or ArgumentException or EvidenceException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read {path}: {e.Message}");
        }
    }

    private static LogHead? ReadEarlier(string? path)
    {
        if (path is null)
            return null;
        return Read(path, () => FileVerifier.HeadOf(path))
            ?? throw new CommandException(ExitCode.Unreachable, $"{path} carries no signed proof that the other file could be held against.");
    }

    private static string? ReadKey(string? text)
    {
        if (text is null)
            return null;
        var digits = text.Replace(":", "", StringComparison.Ordinal).Replace(" ", "", StringComparison.Ordinal).ToLowerInvariant();
        if (digits.Length is < 16 or > 64 || !digits.All(char.IsAsciiHexDigitLower))
            throw new CommandException(ExitCode.BadUsage, $"'{text}' is no fingerprint: it has 64 digits of 0-9 and a-f, of which the first 16 or more will do.");
        return digits;
    }

    private static X509Certificate2Collection? ReadAuthorities(string? path)
    {
        if (path is null)
            return null;
        try
        {
            var certificates = new X509Certificate2Collection();
            certificates.ImportFromPemFile(path);
            if (certificates.Count > 0)
                return certificates;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or CryptographicException or ArgumentException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read the certificates {path}: {e.Message}");
        }

        throw new CommandException(ExitCode.Unreachable, $"{path} holds no certificate in PEM.");
    }
}
