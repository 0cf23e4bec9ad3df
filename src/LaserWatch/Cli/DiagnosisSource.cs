using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Pipeline;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Cli;

/// <summary>What is known of a machine, from the store or from a recording. Nothing is written.</summary>
internal static class DiagnosisSource
{
    /// <param name="Machines">All machines that were met.</param>
    /// <param name="Jobs">All jobs that have a record.</param>
    public sealed record Known(MachineSnapshot Machine, IReadOnlyList<string> Machines, IReadOnlyList<string> Jobs);

    /// <summary>The agent's saved watch and the samples stored since, as the agent itself would take them up.</summary>
    /// <exception cref="CommandException">The store cannot be read.</exception>
    public static async Task<Known> FromStoreAsync(LaserWatchOptions options, string machine, string? job, CancellationToken stop)
    {
        await using var store = StoreAccess.ForReading(options.Store);
        var (shop, channels) = Begin(options);
        foreach (var record in (await store.ReadJobRecordsAsync(stop)).Concat(options.JobRecords))
            shop.Jobs.Add(record);
        await new Resumption(store, shop, channels, NullLogger<Resumption>.Instance).RunAsync(machine, stop);
        return Of(shop, options, machine, job, await store.ReadMachinesAsync(stop));
    }

    /// <exception cref="CommandException">The recording cannot be read.</exception>
    public static async Task<Known> FromRecordingAsync(
        LaserWatchOptions options, string file, string machine, Instant? until, string? job, TextWriter error, CancellationToken stop)
    {
        var (shop, channels) = Begin(options);
        foreach (var record in options.JobRecords)
            shop.Jobs.Add(record);
        try
        {
            using var reader = file == "-" ? new RecordingReader(Console.OpenStandardInput(), channels) : RecordingReader.Open(file, channels);
            var replay = new Replay(reader, shop, _ => { }) { Until = until };
            await replay.RunAsync(null, null, stop);
            if (reader.Counts.Unread > 0)
                await error.WriteLineAsync($"{file}: {reader.Counts.Unread} line(s) could not be read and were skipped: {reader.Counts.FirstUnread[0]}");
        }
        catch (Exception e) when (e is IOException or InvalidDataException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read the recording {file}: {e.Message}");
        }

        return Of(shop, options, machine, job, [.. shop.Machines.Select(m => m.Machine).Order(StringComparer.Ordinal)]);
    }

    private static (Shop Shop, ChannelTable Channels) Begin(LaserWatchOptions options)
    {
        var channels = new ChannelTable();
        foreach (var (channel, unit) in options.DeclaredUnits())
            channels.Declare(channel, unit);
        return (new Shop(options.RulesOf, new JobBook()), channels);
    }

    private static Known Of(Shop shop, LaserWatchOptions options, string machine, string? job, IReadOnlyList<string> machines)
    {
        var watch = shop.Machines.FirstOrDefault(m => m.Machine == machine);
        var snapshot = watch?.TakeSnapshot(job) ?? MachineSnapshot.Unknown(machine, options.RulesOf(machine)) with
        {
            Record = job is null ? null : shop.Jobs.Find(job, Instant.MaxValue),
        };
        return new Known(snapshot, machines, [.. shop.Jobs.InForce.Select(r => r.Job).Order(StringComparer.Ordinal)]);
    }
}
