using System.CommandLine.Parsing;

namespace LaserWatch.Cli;

/// <summary>Where a recording is published for training: a broker, and the prefix that keeps it from the live topics.</summary>
/// <param name="Prefix"><c>training</c>, or levels below it; nothing else, so that no recording is ever taken for live samples.</param>
public sealed record TrainingAddress(string Host, int Port, string Prefix)
{
    private const string Root = "training";
    private const string Mend = "write mqtt://HOST:PORT, or mqtt://HOST:PORT/training/NAME";

    /// <summary>For the command line: adds the mistake to the result where there is one.</summary>
    public static TrainingAddress? Parse(ArgumentResult result)
    {
        var text = result.Tokens[0].Value;
        if (!Uri.TryCreate(text, UriKind.Absolute, out var url) || url.Scheme != "mqtt" || url.Host.Length == 0
            || url.UserInfo.Length > 0 || url.Query.Length > 0 || url.Fragment.Length > 0)
        {
            result.AddError($"--to '{text}' is no address of a broker: {Mend}.");
            return null;
        }

        var prefix = Uri.UnescapeDataString(url.AbsolutePath).Trim('/');
        if (prefix.Length == 0)
            prefix = Root;
        if ((prefix != Root && !prefix.StartsWith(Root + "/", StringComparison.Ordinal)) || prefix.AsSpan().ContainsAny('+', '#', '\0'))
        {
            result.AddError($"--to publishes below '{Root}' only, so that a recording is never taken for live samples: {Mend}.");
            return null;
        }

        return new TrainingAddress(url.Host, url.Port < 0 ? 1883 : url.Port, prefix);
    }
}
