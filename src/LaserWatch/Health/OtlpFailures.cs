using System.Diagnostics.Tracing;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Health;

/// <summary>Hears from the exporter, which logs nowhere, that metrics could not be sent: said when it begins and when it ends.</summary>
internal sealed class OtlpFailures(Uri target, ILogger logger) : EventListener
{
    private const string Exporter = "OpenTelemetry-Exporter-OpenTelemetryProtocol";
    private const string Success = "ExportSuccess";

    private int _failing;

    protected override void OnEventSourceCreated(EventSource eventSource)
    {
        if (eventSource.Name == Exporter)
            EnableEvents(eventSource, EventLevel.Informational);
    }

    protected override void OnEventWritten(EventWrittenEventArgs eventData)
    {
        if (eventData.EventSource.Name != Exporter)
            return;
        if (eventData.EventName == Success && Interlocked.Exchange(ref _failing, 0) != 0)
            logger.OtlpResumed(target.ToString());
        if (eventData.Level <= EventLevel.Warning && Interlocked.Exchange(ref _failing, 1) == 0)
            logger.OtlpFails(target.ToString(), Words(eventData));
    }

    // The last of what it tells is the exception, printed whole; its first line says it.
    private static string Words(EventWrittenEventArgs told) =>
        told.Payload is { Count: > 0 } payload && $"{payload[^1]}".Split('\n')[0].Trim() is { Length: > 0 } line ? line : told.EventName ?? "unknown";
}
