using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;

namespace LaserWatch.Mqtt;

/// <summary>The framework's web server, which holds both doors: the sensors' and the pages'.</summary>
/// <remarks>It reads no settings of its own, from neither files nor the environment, and leaves signals to the agent.</remarks>
internal static class Kestrel
{
    /// <summary>Bytes of one connection that may wait in memory to be read.</summary>
    private const int MostUnreadBytes = 64 * 1024;

    /// <param name="timeToStop">Open connections get so long to end by themselves.</param>
    public static WebApplication Build(TimeSpan timeToStop, Action<KestrelServerOptions> configure)
    {
        var builder = WebApplication.CreateEmptyBuilder(new() { ContentRootPath = AppContext.BaseDirectory });
        builder.WebHost.UseKestrelCore()
            .UseSockets(sockets => sockets.MaxReadBufferSize = MostUnreadBytes)
            .ConfigureKestrel(kestrel =>
            {
                kestrel.AddServerHeader = false;
                configure(kestrel);
            });
        builder.Services.Configure<HostOptions>(host => host.ShutdownTimeout = timeToStop);
        builder.Services.AddSingleton<IHostLifetime, NoSignals>();
        return builder.Build();
    }

    private sealed class NoSignals : IHostLifetime
    {
        public Task WaitForStartAsync(CancellationToken cancellationToken) => Task.CompletedTask;

        public Task StopAsync(CancellationToken cancellationToken) => Task.CompletedTask;
    }
}
