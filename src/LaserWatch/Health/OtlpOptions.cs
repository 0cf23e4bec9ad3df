using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;

namespace LaserWatch.Health;

/// <summary>The two ways of OTLP.</summary>
public enum OtlpProtocol
{
    HttpProtobuf,
    Grpc,
}

/// <summary>Metrics sent to a collector by the OpenTelemetry protocol.</summary>
public sealed record OtlpOptions : ICheckedOptions
{
    /// <summary>The collector's address, as in <c>http://127.0.0.1:4318</c>, over gRPC mostly port 4317; null: metrics are sent nowhere.</summary>
    public string? Endpoint { get; init; }

    /// <summary>How they are sent: <c>http-protobuf</c> (to the endpoint's <c>/v1/metrics</c>) or <c>grpc</c>.</summary>
    public OtlpProtocol Protocol { get; init; } = OtlpProtocol.HttpProtobuf;

    /// <summary>Seconds between two sendings. Default 60. Lower: finer curves, more traffic.</summary>
    [Range(1, 3600)]
    public double EverySeconds { get; init; } = 60;

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (Endpoint is not null && !(Uri.TryCreate(Endpoint, UriKind.Absolute, out var uri) && uri.Scheme is "http" or "https"))
            yield return new("endpoint", $"'{Endpoint}' is no address of a collector", "write one such as \"http://127.0.0.1:4318\", or leave the key out");
    }

    /// <summary>The address that is posted to.</summary>
    internal Uri? Target
    {
        get
        {
            if (Endpoint is null)
                return null;
            const string path = "/v1/metrics";
            return Protocol == OtlpProtocol.Grpc || Endpoint.TrimEnd('/').EndsWith(path, StringComparison.Ordinal)
                ? new Uri(Endpoint)
                : new Uri(Endpoint.TrimEnd('/') + path);
        }
    }
}
