using System.Buffers;
using System.Text.Json;
using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>The way of an entry into the service log: over MQTT like any script's message, so that a running agent judges by it.</summary>
/// <remarks>Only where the agent is the broker, and does not run, it is written to the store; the agent takes it up when it starts.</remarks>
internal static class ServiceEntry
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(5);

    /// <summary>Says on <paramref name="error"/> what came of it.</summary>
    /// <exception cref="CommandException">Nobody took it.</exception>
    public static async Task EnterAsync(LaserWatchOptions options, ServiceEvent done, TextWriter error, CancellationToken stop)
    {
        try
        {
            await using var call = await AgentCall.OpenAsync(BrokerOf.Clients(options), [], stop);
            await call.SayAsync($"{options.Broker.TopicRoot}/{done.Machine}/service", Json(done), stop);
        }
        catch (IOException fault) when (options.Broker.Host is null && AgentCall.NobodyListens(fault))
        {
            await WriteAsync(options.Store, done, stop);
            await error.WriteLineAsync("Written to the store; the agent does not run, and takes it up when it starts.");
            return;
        }
        catch (IOException fault)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }

        if (await IsStoredAsync(options, done, stop))
            await error.WriteLineAsync("Added.");
        else
            await error.WriteLineAsync($"The broker has it, but no agent has stored it within {Patience.TotalSeconds} s; it waits there if the agent's session does.");
    }

    public static async Task WriteAsync(StoreOptions place, ServiceEvent done, CancellationToken stop)
    {
        await using var store = StoreAccess.ForWriting(place);
        var batch = new StoreBatch();
        batch.ServiceEvents.Add(done);
        await store.AppendAsync(batch, stop);
    }

    public static byte[] Json(ServiceEvent done)
    {
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes))
        {
            json.WriteStartObject();
            json.WriteString("time", Alarms.Rfc3339.Format(done.At));
            json.WriteString("part", done.Part);
            json.WriteString("action", done.Action);
            if (done.Serial is not null)
                json.WriteString("serial", done.Serial);
            if (done.Note is not null)
                json.WriteString("note", done.Note);
            foreach (var (name, value) in done.Details)
                json.WriteString(name, value);
            json.WriteEndObject();
        }

        return bytes.WrittenSpan.ToArray();
    }

    private static async Task<bool> IsStoredAsync(LaserWatchOptions options, ServiceEvent done, CancellationToken stop)
    {
        if (!File.Exists(options.Store.Path))
            return false;
        var since = TimeProvider.System.GetTimestamp();
        await using var store = StoreAccess.ForReading(options.Store);
        while (TimeProvider.System.GetElapsedTime(since) < Patience)
        {
            var events = await store.ReadServiceEventsAsync(done.Machine, done.At - TimeSpan.FromMinutes(1), Instant.MaxValue, stop);
            if (events.Any(e => e.Part == done.Part && e.Action == done.Action && e.At >= done.At - TimeSpan.FromSeconds(1) && e.Details.GetValueOrDefault("id") == done.Details.GetValueOrDefault("id")))
                return true;
            await Task.Delay(TimeSpan.FromMilliseconds(100), stop);
        }

        return false;
    }
}
