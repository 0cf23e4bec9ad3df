using System.Globalization;
using LaserWatch.Configuration;
using LaserWatch.Telemetry;
using Serilog.Events;
using Serilog.Formatting;
using Serilog.Formatting.Display;

namespace LaserWatch;

/// <summary>A line of the agent's log: when (UTC), how grave by RFC 5424's word, what; in the file also where it comes from.</summary>
/// <remarks>
/// <c>[2026-03-09T08:00:00.250Z] warning: The broker has gone (Mqtt.BrokerConnection)</c>. A fault's own text follows, each line of it set in by
/// four spaces. Control characters from outside become spaces: one event is one line.
/// </remarks>
internal sealed class LogLine(bool withOrigin) : ITextFormatter
{
    private const string OurNamespace = "LaserWatch.";

    private static readonly MessageTemplateTextFormatter Message = new("{Message:lj}", CultureInfo.InvariantCulture);

    public void Format(LogEvent logEvent, TextWriter output)
    {
        var message = new StringWriter(CultureInfo.InvariantCulture);
        Message.Format(logEvent, message);
        output.Write($"[{Instant.From(logEvent.Timestamp)}] {WordOf(logEvent.Level)}: {Harmless(message.ToString())}");
        if (withOrigin && logEvent.Properties.TryGetValue("SourceContext", out var value) && value is ScalarValue { Value: string origin })
            output.Write($" ({(origin.StartsWith(OurNamespace, StringComparison.Ordinal) ? origin[OurNamespace.Length..] : origin)})");
        output.Write('\n');
        if (logEvent.Exception is not { } fault)
            return;
        foreach (var line in fault.ToString().Split('\n'))
            output.Write($"    {Harmless(line.TrimEnd())}\n");
    }

    private static string WordOf(LogEventLevel level) => ConfigurationJson.WordOf((level switch
    {
        LogEventLevel.Fatal => LogSeverity.Critical,
        LogEventLevel.Error => LogSeverity.Error,
        LogEventLevel.Warning => LogSeverity.Warning,
        LogEventLevel.Information => LogSeverity.Informational,
        _ => LogSeverity.Debug,
    }).ToString());

    private static string Harmless(string text) => text.Any(char.IsControl) ? string.Concat(text.Select(c => char.IsControl(c) ? ' ' : c)) : text;
}
