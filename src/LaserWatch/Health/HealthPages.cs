using System.Buffers;
using System.Net;
using System.Net.Sockets;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Mqtt;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Health;

/// <summary>The pages over HTTP: <c>/agent/judges</c>, <c>/agent/works</c>, <c>/metrics</c>. A port that is taken costs the pages, never the watch.</summary>
internal sealed class HealthPages : IAsyncDisposable
{
    private const string OpenMetrics = "application/openmetrics-text; version=1.0.0; charset=utf-8";

    private static readonly JsonWriterOptions Readable = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping, Indented = true };

    private readonly HealthOptions _options;
    private readonly AgentCondition _condition;
    private readonly MetricsReading? _metrics;
    private readonly ILogger _logger;
    private readonly PageServer _server;

    public HealthPages(HealthOptions options, AgentCondition condition, MetricsReading? metrics, ILogger logger)
    {
        (_options, _condition, _metrics, _logger) = (options, condition, metrics, logger);
        _server = new PageServer(PageOf, logger);
    }

    /// <summary>Where the pages are, with the port that was taken; null where they are not.</summary>
    public Uri? Address { get; private set; }

    /// <summary>Listens; where that cannot be, says why in the log.</summary>
    public async Task StartAsync(CancellationToken stop)
    {
        try
        {
            Address = await _server.StartAsync(new IPEndPoint(IPAddress.Parse(_options.Address), _options.Port), stop);
        }
        catch (Exception fault) when (fault is SocketException or IOException)
        {
            _logger.HealthNotListening(_options.Address, _options.Port, fault.GetBaseException().Message.TrimEnd('.'));
            return;
        }

        _logger.HealthListens(Address.ToString().TrimEnd('/'));
    }

    public ValueTask DisposeAsync() => _server.DisposeAsync();

    private Page PageOf(string path) => path switch
    {
        "/agent/judges" => Told([.. _condition.Look().Where(look => look.IsNeededToJudge)]),
        "/agent/works" => Told(_condition.Look()),
        "/metrics" when _metrics is not null => new(HttpStatusCode.OK, OpenMetrics, _metrics.Print()),
        _ => new(HttpStatusCode.NotFound),
    };

    private static Page Told(IReadOnlyList<PartLook> parts)
    {
        var worst = parts.Max(look => look.State);
        var bytes = new ArrayBufferWriter<byte>(1024);
        using (var json = new Utf8JsonWriter(bytes, Readable))
        {
            json.WriteStartObject();
            json.WriteString("state", NameOf(worst));
            json.WriteStartObject("checks");
            foreach (var look in parts)
            {
                json.WriteStartObject(look.Part);
                json.WriteString("state", NameOf(look.State));
                json.WriteString("why", look.Why);
                json.WriteEndObject();
            }

            json.WriteEndObject();
            json.WriteEndObject();
        }

        bytes.Write("\n"u8);
        return new(worst == PartState.Bad ? HttpStatusCode.ServiceUnavailable : HttpStatusCode.OK, "application/json; charset=utf-8", bytes.WrittenMemory);
    }

    private static string NameOf(PartState state) => state switch { PartState.Good => "good", PartState.Impaired => "impaired", _ => "bad" };
}
