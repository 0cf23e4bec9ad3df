using System.Diagnostics.Metrics;
using System.Reflection;
using OpenTelemetry;
using OpenTelemetry.Exporter;
using OpenTelemetry.Metrics;
using OpenTelemetry.Resources;

namespace LaserWatch.Health;

/// <summary>Sends the agent's own meter to a collector. Its library is met only where a collector is named: it costs megabytes.</summary>
internal static class MetricsOutlet
{
    /// <summary>Series of one metric. The library sets memory aside for all of them, by default for 2000.</summary>
    private const int MostSeries = 100;

    public static MeterProvider Open(Meter meter, OtlpOptions otlp, Uri target, string instance) =>
        Sdk.CreateMeterProviderBuilder()
            .ConfigureResource(resource => resource.Clear().AddService(
                "laserwatch", serviceVersion: Version, autoGenerateServiceInstanceId: false, serviceInstanceId: instance))
            .AddMeter(meter.Name)
            .AddView(instrument => ReferenceEquals(instrument.Meter, meter)
                ? new MetricStreamConfiguration { CardinalityLimit = MostSeries }
                : MetricStreamConfiguration.Drop) // another agent in this process
            .AddOtlpExporter((exporter, reader) =>
            {
                exporter.Endpoint = target;
                exporter.Protocol = otlp.Protocol == OtlpProtocol.Grpc ? OtlpExportProtocol.Grpc : OtlpExportProtocol.HttpProtobuf;
                reader.PeriodicExportingMetricReaderOptions.ExportIntervalMilliseconds = (int)(otlp.EverySeconds * 1000);
            })
            .Build();

    private static string Version => typeof(MetricsOutlet).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion ?? "";
}
