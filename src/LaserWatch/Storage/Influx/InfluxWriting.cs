using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Storage.Influx;

/// <summary>The writing half of the store: into the side file at once, from there to the server in the background.</summary>
/// <remarks>Safe for several threads.</remarks>
internal sealed class InfluxWriting : IAsyncDisposable
{
    private readonly StoreOptions _options;
    private readonly InfluxConnection _server;
    private readonly SideReader _side;
    private readonly TimeSpan _timeToFlush;
    private readonly TimeProvider _time;
    private readonly ILogger _logger;
    private readonly SemaphoreSlim _writing = new(1);
    private readonly SqliteConnection _connection;
    private readonly SideWriter _writer;
    private readonly SpoolSender _sender;
    private readonly long _mostBytes;
    private bool _disposed;

    /// <param name="options">With InfluxDB.</param>
    /// <param name="timeToFlush">How long the closing may take to send what waits.</param>
    /// <exception cref="StoreException">The side file cannot be opened.</exception>
    public InfluxWriting(StoreOptions options, InfluxConnection server, SideReader side, TimeSpan timeToFlush, TimeProvider time, ILogger logger)
    {
        _options = options;
        _server = server;
        _side = side;
        _timeToFlush = timeToFlush;
        _time = time;
        _logger = logger;
        _mostBytes = options.Influx!.SpoolMegabytes * 1_000_000L;
        _connection = SideFile.OpenForWriting(options.Path, options.BusySeconds);
        _writer = new SideWriter(_connection, options.SyncEveryBatch);
        _sender = new SpoolSender(new Spool(_writer), _writing, server, options.Influx, options.Path, new Random(Environment.ProcessId), time, logger);
    }

    public bool IsFailing => _sender.IsFailing;

    /// <exception cref="StoreException">The spool is full, and the server takes nothing: nothing of the batch was kept.</exception>
    public async Task AppendAsync(StoreBatch batch, CancellationToken stop)
    {
        while (!await TryAppendAsync(batch, stop))
            await MakeRoomAsync(stop);
    }

    /// <exception cref="InfluxFaultException">The server takes nothing.</exception>
    public Task FlushAsync(CancellationToken stop) => _sender.FlushAsync(stop);

    public async Task<Maintenance> MaintainAsync(Instant now, CancellationToken stop)
    {
        await _writing.WaitAsync(stop);
        try
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            using var deleteGaps = new Statement(_connection, "DELETE FROM gap WHERE to_ts < ?1");
            // A point that was moved has its true time here only, for as long as the server may have it.
            using var deleteTimes = new Statement(_connection, "DELETE FROM event_time WHERE ts < ?1 AND moved = 0");
            var days = Math.Max(_options.KeepAlarmsDays, Math.Max(_options.KeepJobRunsDays, _options.KeepServiceDays));
            var gaps = 0;
            _writer.InTransaction(() =>
            {
                gaps = deleteGaps.Bind(1, (now - TimeSpan.FromDays(_options.KeepGapsDays)).UnixNanoseconds).Run();
                deleteTimes.Bind(1, (now - TimeSpan.FromDays(days)).UnixNanoseconds).Run();
                _writer.TrimDeliveries();
            });
            return new Maintenance(0, 0, gaps);
        }
        finally
        {
            _writing.Release();
        }
    }

    /// <summary>Sends what waits as far as the time goes; the rest stays in the spool for the next start.</summary>
    public async ValueTask DisposeAsync()
    {
        await _writing.WaitAsync();
        var first = !_disposed;
        _disposed = true;
        _writing.Release();
        if (!first)
            return;
        await FlushBeforeEndAsync();
        await _sender.DisposeAsync();
        _writer.Dispose();
        _connection.Dispose();
        _writing.Dispose();
    }

    private async ValueTask<bool> TryAppendAsync(StoreBatch batch, CancellationToken stop)
    {
        await _writing.WaitAsync(stop);
        try
        {
            ObjectDisposedException.ThrowIf(_disposed, this);
            _sender.Appended(_writer.Append(batch, _mostBytes));
            return true;
        }
        catch (SpoolFullException)
        {
            return false;
        }
        finally
        {
            _writing.Release();
        }
    }

    /// <summary>A server that is only slower than we are is waited for; one that takes nothing is the caller's affair.</summary>
    private async Task MakeRoomAsync(CancellationToken stop)
    {
        var why = "more than that at once, or lines that were refused; see the log";
        try
        {
            if (await _sender.SendSomeAsync(stop) > 0)
                return;
        }
        catch (InfluxFaultException fault)
        {
            why = fault.Message;
        }

        throw new StoreException(
            $"The spool {_options.Path} is full, {_options.Influx!.SpoolMegabytes} MB wait for InfluxDB {_server.Where}: {why}. Or raise store.influx.spoolMegabytes.");
    }

    private async Task FlushBeforeEndAsync()
    {
        using var deadline = new CancellationTokenSource(_timeToFlush, _time);
        try
        {
            if (!_sender.IsFailing)
                await _sender.FlushAsync(deadline.Token);
        }
        catch (Exception fault) when (fault is InfluxFaultException or SqliteException or OperationCanceledException)
        {
            // It is in the spool; the message below says so.
        }

        if (_side.Waiting() is { Lines: > 0 } waiting)
            _logger.InfluxStoppedWithLines(waiting.Lines, _options.Path);
    }
}
