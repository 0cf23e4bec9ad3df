using System.IO.Pipelines;
using LaserWatch.Configuration;
using LaserWatch.Recordings;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>What a comparison plays: recordings, or machines out of a store, opened and read as they are needed.</summary>
internal sealed class RehearsalSource : IAsyncDisposable
{
    private readonly List<RecordingReader> _readers = [];
    private readonly List<string> _names = [];
    private readonly List<Task> _writing = [];
    private readonly CancellationTokenSource _end = new();
    private ITelemetryStore? _store;

    private RehearsalSource()
    {
    }

    public IReadOnlyList<RecordingReader> Readers => _readers;

    /// <exception cref="CommandException">One cannot be opened.</exception>
    public static async Task<RehearsalSource> OfFilesAsync(IReadOnlyList<string> paths, ChannelTable channels)
    {
        var source = new RehearsalSource();
        try
        {
            foreach (var path in paths)
            {
                source._readers.Add(path == "-" ? new RecordingReader(Console.OpenStandardInput(), channels) : RecordingReader.Open(path, channels));
                source._names.Add(path);
            }

            return source;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            await source.DisposeAsync().ConfigureAwait(false);
            throw new CommandException(ExitCode.Unreachable, $"cannot read the recording {paths[source._readers.Count]}: {e.Message}");
        }
    }

    /// <summary>Machines out of a store, as <c>record</c> writes them; nothing of it goes to a disk.</summary>
    /// <exception cref="CommandException">The store cannot be read, or knows no such machine.</exception>
    public static async Task<RehearsalSource> OfStoreAsync(
        StoreOptions place, IReadOnlyList<string> machines, Instant from, Instant to, ChannelTable channels, CancellationToken stop)
    {
        var source = new RehearsalSource { _store = StoreAccess.ForReading(place) };
        try
        {
            foreach (var machine in machines)
                await StoreAccess.RequireMachineAsync(source._store, place, machine, stop).ConfigureAwait(false);
            foreach (var machine in machines)
            {
                var pipe = new Pipe();
                source._writing.Add(Task.Run(() => WriteAsync(source._store, machine, from, to, pipe.Writer, source._end.Token), CancellationToken.None));
                source._readers.Add(await Task.Run(() => new RecordingReader(pipe.Reader.AsStream(), channels), stop).ConfigureAwait(false));
                source._names.Add(machine);
            }

            return source;
        }
        catch
        {
            await source.DisposeAsync().ConfigureAwait(false);
            throw;
        }
    }

    /// <summary>The service logs of the store's machines; empty of recordings, whose events come in their places.</summary>
    public async Task<IReadOnlyList<ServiceEvent>> ServicesAsync(CancellationToken stop)
    {
        List<ServiceEvent> services = [];
        if (_store is not null)
        {
            foreach (var machine in _names)
                services.AddRange(await _store.ReadServiceEventsAsync(machine, Instant.MinValue, Instant.MaxValue, stop).ConfigureAwait(false));
        }

        return services;
    }

    /// <summary>Tells which lines were not read.</summary>
    public void TellUnread(TextWriter error)
    {
        for (var i = 0; i < _readers.Count; i++)
        {
            var counts = _readers[i].Counts;
            foreach (var unread in counts.FirstUnread)
                error.WriteLine($"{_names[i]}: {unread}; skipped");
            if (counts.Unread > counts.FirstUnread.Count)
                error.WriteLine($"{_names[i]}: and {counts.Unread - counts.FirstUnread.Count} more lines that could not be read");
        }
    }

    public async ValueTask DisposeAsync()
    {
        await _end.CancelAsync().ConfigureAwait(false);
        foreach (var reader in _readers)
            reader.Dispose();
        await Task.WhenAll(_writing).ConfigureAwait(false);
        if (_store is not null)
            await _store.DisposeAsync().ConfigureAwait(false);
        _end.Dispose();
    }

    private static async Task WriteAsync(ITelemetryStore store, string machine, Instant from, Instant to, PipeWriter pipe, CancellationToken stop)
    {
        try
        {
            await RecordingWriter.WriteAsync(store, machine, from, to, pipe.AsStream(leaveOpen: true), stop).ConfigureAwait(false);
            await pipe.CompleteAsync().ConfigureAwait(false);
        }
        catch (Exception fault)
        {
            // Whatever ended the reading of the store is thrown to the reader of the pipe, which tells it.
            await pipe.CompleteAsync(fault).ConfigureAwait(false);
        }
    }
}
