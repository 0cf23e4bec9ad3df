using System.Globalization;
using System.Text;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;
using LaserWatch.History;
using LaserWatch.Proof;
using LaserWatch.Storage;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Cli;

/// <summary>Where annotations are kept: at the agent that a configuration names, or in a store file of its own.</summary>
internal sealed record AnnotationPlace(string? Config, string? StoreFile)
{
    /// <summary>Eight hex digits.</summary>
    public static string NewId(string machine, Instant from, Instant to, Instant made) => Digest.Of(Encoding.UTF8.GetBytes(string.Create(
        CultureInfo.InvariantCulture, $"{machine}/{from.UnixNanoseconds}/{to.UnixNanoseconds}/{made.UnixNanoseconds}"))).ToString()[..8];

    public StoreOptions Store => StoreFile is { } file ? new StoreOptions { Path = file } : AgentConfiguration.Read(Config).Store;

    /// <summary>The causes that the diagnosis knows.</summary>
    public CauseModel Causes() => (StoreFile is null ? AgentConfiguration.ReadAsPerson(Config).Causes : null) ?? CausesFile.ReadBuiltIn();

    /// <exception cref="CommandException">Nobody took it.</exception>
    /// <remarks>In a store file whose days are sealed, those that the entry adds to are sealed again at once; an agent does that in its own time.</remarks>
    public async Task EnterAsync(ServiceEvent entry, TextWriter error, CancellationToken stop)
    {
        if (StoreFile is null)
        {
            await ServiceEntry.EnterAsync(AgentConfiguration.ReadAsPerson(Config), entry, error, stop).ConfigureAwait(false);
            return;
        }

        await ServiceEntry.WriteAsync(Store, entry, stop).ConfigureAwait(false);
        if (!Directory.Exists(EvidenceFolder.Of(Store).Path))
            return;
        try
        {
            await using var store = StoreAccess.ForReading(Store);
            await new EvidenceKeeper(Store, new EvidenceOptions(), NullLogger.Instance).SealAsync(store, Instant.From(TimeProvider.System.GetUtcNow()), stop).ConfigureAwait(false);
        }
        catch (EvidenceException fault)
        {
            throw new CommandException(ExitCode.Unreachable, $"entered, but not sealed: {fault.Message}");
        }
    }

    /// <summary>Those in force, by when they begin.</summary>
    public async Task<IReadOnlyList<Annotation>> ReadAsync(string machine, CancellationToken stop)
    {
        await using var store = StoreAccess.ForReading(Store);
        return AnnotationBook.Of(await store.ReadServiceEventsAsync(machine, Instant.MinValue, Instant.MaxValue, stop)).InForce;
    }
}
