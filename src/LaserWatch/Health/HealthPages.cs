using System.Buffers;
using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Diagnostics.HealthChecks;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Diagnostics.HealthChecks;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using OpenTelemetry.Metrics;

namespace LaserWatch.Health;

/// <summary>The pages over HTTP: <c>/health/live</c>, <c>/health/ready</c>, <c>/metrics</c>, to be read and nothing else.</summary>
/// <remarks>
/// A host of its own, started beside the watch: a port that is taken costs the pages, never the watch. It has no files, no routing, no
/// logging and no settings from outside.
/// </remarks>
internal sealed class HealthPages(HealthOptions options, AgentCondition condition, MeterProvider? metrics, ILogger logger) : IAsyncDisposable
{
    private const string Live = "live";

    private static readonly JsonWriterOptions Readable = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping, Indented = true };

    private WebApplication? _app;

    /// <summary>Where the pages are, with the port that was taken; null where they are not.</summary>
    public Uri? Address { get; private set; }

    /// <summary>Listens; where that cannot be, says why in the log.</summary>
    public async Task StartAsync(CancellationToken stop)
    {
        var app = Build();
        try
        {
            await app.StartAsync(stop);
        }
        catch (Exception fault) when (fault is IOException or System.Net.Sockets.SocketException or UnauthorizedAccessException)
        {
            logger.HealthNotListening(options.Address, options.Port, (fault.InnerException?.InnerException ?? fault.InnerException ?? fault).Message.TrimEnd('.'));
            await app.DisposeAsync();
            return;
        }

        _app = app;
        Address = new Uri(app.Services.GetRequiredService<Microsoft.AspNetCore.Hosting.Server.IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.First());
        logger.HealthListens(Address.ToString().TrimEnd('/'));
    }

    public async ValueTask DisposeAsync()
    {
        if (_app is null)
            return;
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(1));
        await _app.StopAsync(patience.Token).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        await _app.DisposeAsync();
    }

    private WebApplication Build()
    {
        var builder = WebApplication.CreateEmptyBuilder(new WebApplicationOptions { ApplicationName = "laserwatch" });
        builder.WebHost.UseKestrelCore();
        builder.WebHost.ConfigureKestrel(Bound);
        builder.Services.AddSingleton<IHostLifetime, NoLifetime>();
        var checks = builder.Services.AddHealthChecks();
        foreach (var look in condition.Look())
            checks.Add(new HealthCheckRegistration(look.Part, new PartCheck(condition, look.Part), null, look.MakesLive ? [Live] : []));

        var app = builder.Build();
        app.Use(ReadingOnlyAsync);
        app.UseHealthChecks("/health/live", new HealthCheckOptions { Predicate = check => check.Tags.Contains(Live), ResponseWriter = WriteAsync });
        app.UseHealthChecks("/health/ready", new HealthCheckOptions { ResponseWriter = WriteAsync });
        if (metrics is not null)
            app.UseOpenTelemetryPrometheusScrapingEndpoint(metrics, context => context.Request.Path == "/metrics", null, null, null);
        app.Run(context =>
        {
            context.Response.StatusCode = StatusCodes.Status404NotFound;
            return Task.CompletedTask;
        });
        return app;
    }

    // A page is a few kilobytes and is asked for a few times a minute.
    private void Bound(KestrelServerOptions server)
    {
        server.Listen(System.Net.IPAddress.Parse(options.Address), options.Port);
        server.AddServerHeader = false;
        server.AllowSynchronousIO = false;
        server.Limits.MaxConcurrentConnections = 32;
        server.Limits.MaxConcurrentUpgradedConnections = 0;
        server.Limits.MaxRequestBodySize = 0;
        server.Limits.MaxRequestBufferSize = 16 * 1024;
        server.Limits.MaxRequestHeadersTotalSize = 8 * 1024;
        server.Limits.MaxRequestLineSize = 2 * 1024;
        server.Limits.RequestHeadersTimeout = TimeSpan.FromSeconds(5);
        server.Limits.KeepAliveTimeout = TimeSpan.FromSeconds(90); // longer than a scraper's usual minute
    }

    private static Task ReadingOnlyAsync(HttpContext context, Func<Task> next)
    {
        if (HttpMethods.IsGet(context.Request.Method) || HttpMethods.IsHead(context.Request.Method))
            return next();
        context.Response.StatusCode = StatusCodes.Status405MethodNotAllowed;
        context.Response.Headers.Allow = "GET, HEAD";
        return Task.CompletedTask;
    }

    private static async Task WriteAsync(HttpContext context, HealthReport report)
    {
        var bytes = new ArrayBufferWriter<byte>(1024);
        using (var json = new Utf8JsonWriter(bytes, Readable))
        {
            json.WriteStartObject();
            json.WriteString("state", NameOf(report.Status));
            json.WriteStartObject("checks");
            foreach (var (part, check) in report.Entries)
            {
                json.WriteStartObject(part);
                json.WriteString("state", NameOf(check.Status));
                json.WriteString("why", check.Description);
                json.WriteEndObject();
            }

            json.WriteEndObject();
            json.WriteEndObject();
        }

        context.Response.ContentType = "application/json; charset=utf-8";
        context.Response.Headers.ContentLength = bytes.WrittenCount + 1;
        if (HttpMethods.IsHead(context.Request.Method))
            return;
        bytes.Write("\n"u8);
        await context.Response.Body.WriteAsync(bytes.WrittenMemory);
    }

    private static string NameOf(HealthStatus status) =>
        status switch { HealthStatus.Healthy => "good", HealthStatus.Degraded => "impaired", _ => "bad" };

    private sealed class PartCheck(AgentCondition condition, string part) : IHealthCheck
    {
        public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
        {
            var look = condition.Look().First(look => look.Part == part);
            var status = look.State switch { PartState.Good => HealthStatus.Healthy, PartState.Impaired => HealthStatus.Degraded, _ => HealthStatus.Unhealthy };
            return Task.FromResult(new HealthCheckResult(status, look.Why));
        }
    }

    /// <summary>Signals are for the agent's own host.</summary>
    private sealed class NoLifetime : IHostLifetime
    {
        public Task WaitForStartAsync(CancellationToken cancellationToken) => Task.CompletedTask;

        public Task StopAsync(CancellationToken cancellationToken) => Task.CompletedTask;
    }
}
