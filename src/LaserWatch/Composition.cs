using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Health;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Pipeline;
using LaserWatch.Proof;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Hosting.Systemd;
using Microsoft.Extensions.Logging;
using Serilog;

namespace LaserWatch;

/// <summary>All parts of the agent, in the order in which a message meets them.</summary>
public static class Composition
{
    /// <param name="store">Open for writing; stays its owner's, to close after the host.</param>
    /// <param name="log">Stays its owner's.</param>
    public static IHost Build(LaserWatchOptions options, ITelemetryStore store, Serilog.ILogger log)
    {
        // Empty: settings come from our file alone, not from the environment's files that the host would look for.
        var builder = Host.CreateEmptyApplicationBuilder(new HostApplicationBuilderSettings { ApplicationName = "laserwatch" });
        builder.Services.AddSerilog(log);
        builder.Services.AddSystemd();
        builder.Services.AddWindowsService(o => o.ServiceName = "LaserWatch");
        builder.Services.Configure<HostOptions>(o => o.ShutdownTimeout = TimeSpan.FromSeconds(8));
        AddAgent(builder.Services, options, store);
        return builder.Build();
    }

    private static void AddAgent(IServiceCollection services, LaserWatchOptions options, ITelemetryStore store)
    {
        services.AddSingleton(options);
        services.AddSingleton(options.Commands);
        services.AddSingleton(TimeProvider.System);

        // From the wire …
        services.AddSingleton<IBrokerLink>(MakeLink);
        services.AddSingleton(s => new SteadyTime(s.GetRequiredService<TimeProvider>()));
        services.AddSingleton(s => new Ticker(s.GetRequiredService<SteadyTime>()));
        services.AddSingleton<WatchFigures>();

        // … to samples and events …
        services.AddSingleton(_ => DeclaredChannels(options));
        services.AddSingleton(s => new MessageDecoder(
            options.Input, options.TopicRules(), [.. options.Machines.Keys], s.GetRequiredService<ChannelTable>()));
        services.AddSingleton<RejectionLedger>();

        // … judged …
        services.AddSingleton<JobBook>();
        services.AddSingleton(s => new Shop(options.RulesOf, s.GetRequiredService<JobBook>()));

        // … told …
        services.AddSingleton(new Topics(options.Broker.TopicRoot));
        services.AddSingleton<IAlarmSink, MqttAlarmSink>();
        services.AddSingleton<AlarmOutbox>();
        services.AddSingleton<DeliveryOutbox>();
        services.AddSingleton<StatusPublisher>();

        services.AddSingleton(s => new FloodTeller(
            options.Flood, s.GetRequiredService<Shop>(), s.GetRequiredService<StatusPublisher>(), s.GetRequiredService<ILogger<FloodTeller>>()));

        // … and kept.
        services.AddSingleton(store);
        services.AddSingleton(s => new SampleWriter(
            store, new SampleWriterOptions(), s.GetRequiredService<TimeProvider>(), s.GetRequiredService<ILogger<SampleWriter>>()));

        services.AddSingleton(s => new EvidenceKeeper(options.Store, options.Evidence, s.GetRequiredService<ILogger<EvidenceKeeper>>()));

        services.AddSingleton<Resumption>();
        services.AddSingleton<WatchPipeline>();
        services.AddSingleton<WatchWorker>();
        services.AddHostedService(s => s.GetRequiredService<WatchWorker>());
        services.AddHostedService(s => new Watchdog(
            s.GetRequiredService<WatchPipeline>(), new SystemdNotifier(), Watchdog.Asked(Environment.GetEnvironmentVariable, Environment.ProcessId),
            s.GetRequiredService<TimeProvider>(), s.GetRequiredService<ILogger<Watchdog>>()));

        // Beside it: the agent watches itself.
        services.AddSingleton(options.Health);
        services.AddSingleton<AgentCondition>();
        services.AddSingleton<Heartbeat>();
        services.AddSingleton<SignOfLife>();
        services.AddSingleton<HealthWorker>();
        services.AddHostedService(s => s.GetRequiredService<HealthWorker>());
        services.AddHostedService<StartMemory>();
    }

    private static ChannelTable DeclaredChannels(LaserWatchOptions options)
    {
        var channels = new ChannelTable();
        foreach (var (channel, unit) in options.DeclaredUnits())
            channels.Declare(channel, unit);
        return channels;
    }

    private static IBrokerLink MakeLink(IServiceProvider s)
    {
        var options = s.GetRequiredService<LaserWatchOptions>();
        var time = s.GetRequiredService<SteadyTime>(); // arrivals are stamped by it
        if (options.Broker.Host is null)
        {
            return new EmbeddedBrokerLink(
                options.EmbeddedBroker, options.Broker.TopicRoot, RetainedFile(options), time, s.GetRequiredService<ILogger<EmbeddedBrokerLink>>(),
                options.TopicRules(), options.Input.MaxPayloadBytes);
        }

        var onlyMachine = options.Machines.Count == 1 ? options.Machines.Keys.Single() : null;
        return new MqttClientLink(
            options.Broker, options.Subscriptions(), onlyMachine, time, seed: Environment.ProcessId, s.GetRequiredService<ILogger<MqttClientLink>>());
    }

    /// <summary>Beside the store, as what it holds is as lasting.</summary>
    private static string RetainedFile(LaserWatchOptions options) => Path.ChangeExtension(options.Store.Path, ".retained.json");
}
