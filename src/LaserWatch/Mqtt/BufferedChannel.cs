using System.Buffers;
using System.Net;
using System.Runtime.CompilerServices;
using System.Runtime.ExceptionServices;
using System.Security.Cryptography.X509Certificates;
using MQTTnet.Channel;

namespace LaserWatch.Mqtt;

/// <summary>Goes to the socket once for many packets.</summary>
/// <remarks>
/// The library asks for each packet in two or three reads, of which each would be a system call and an asynchronous one besides. Here
/// what has come is read ahead, so that under load a read is a copy. One reads and any number write; a write is never
/// torn by another.
/// </remarks>
/// <param name="readAhead">Bytes read ahead, which stay allocated as long as the connection; more only while a larger packet is gathered.</param>
/// <param name="gate">Asked before the socket is; null: go on.</param>
internal sealed class BufferedChannel(IMqttChannel inner, int readAhead, InboxGate? gate = null) : IMqttChannel
{
    private const int LongestKnown = 1024;

    // A finished read is told by a task, and no library keeps those of more than a few bytes.
    private static readonly Task<int>[] Known = [.. Enumerable.Range(0, LongestKnown + 1).Select(Task.FromResult)];

    private readonly SemaphoreSlim _writing = new(1);
    private byte[] _ahead = new byte[readAhead];
    private int _from;
    private int _to;
    private ExceptionDispatchInfo? _fault;
    private long _arrivals;

    public X509Certificate2 ClientCertificate => inner.ClientCertificate;

    public EndPoint RemoteEndPoint => inner.RemoteEndPoint;

    public EndPoint LocalEndPoint => inner.LocalEndPoint;

    public bool IsSecureConnection => inner.IsSecureConnection;

    /// <summary>How often the other end has sent something. Any thread may ask.</summary>
    public long Arrivals => Volatile.Read(ref _arrivals);

    /// <summary>What has come and was not read; good until the next read.</summary>
    public ReadOnlySpan<byte> Ahead => _ahead.AsSpan(_from, _to - _from);

    public Task ConnectAsync(CancellationToken cancellationToken) => inner.ConnectAsync(cancellationToken);

    public Task DisconnectAsync(CancellationToken cancellationToken) => inner.DisconnectAsync(cancellationToken);

    public Task<int> ReadAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken) =>
        _from < _to ? Finished(Take(buffer.AsSpan(offset, count)))
        : ReadAheadAsync(buffer, offset, count, cancellationToken);

    /// <summary>What was looked at in <see cref="Ahead"/> is done with.</summary>
    public void Skip(int bytes) => _from += bytes;

    /// <summary>Reads more behind what is there, however much that is. False where no more will come: the next read says why.</summary>
    [AsyncMethodBuilder(typeof(PoolingAsyncValueTaskMethodBuilder<>))]
    public async ValueTask<bool> FillAsync(CancellationToken stop)
    {
        try
        {
            if (gate is not null)
                await gate.PassAsync(stop);
            MakeRoom();
            var read = Arrived(await inner.ReadAsync(_ahead, _to, _ahead.Length - _to, stop));
            _to += read;
            return read > 0;
        }
        catch (Exception fault) // whatever it is, it is the reader's who asks next
        {
            _fault = ExceptionDispatchInfo.Capture(fault);
            return false;
        }
    }

    /// <remarks>Whole packets only: the library must not cut them in two calls.</remarks>
    public async Task WriteAsync(ReadOnlySequence<byte> buffer, bool isEndOfPacket, CancellationToken cancellationToken)
    {
        await _writing.WaitAsync(cancellationToken);
        try
        {
            await inner.WriteAsync(buffer, isEndOfPacket, cancellationToken);
        }
        finally
        {
            _writing.Release();
        }
    }

    public void Dispose() => inner.Dispose();

    private async Task<int> ReadAheadAsync(byte[] buffer, int offset, int count, CancellationToken stop)
    {
        _fault?.Throw();
        if (gate is not null)
            await gate.PassAsync(stop);
        if (count >= _ahead.Length)
            return Arrived(await inner.ReadAsync(buffer, offset, count, stop));
        _from = _to = 0;
        _to = Arrived(await inner.ReadAsync(_ahead, 0, _ahead.Length, stop));
        return Take(buffer.AsSpan(offset, count));
    }

    private int Arrived(int read)
    {
        if (read > 0)
            Volatile.Write(ref _arrivals, _arrivals + 1); // one reads
        return read;
    }

    private void MakeRoom()
    {
        var length = _to - _from;
        if (length == 0 && _ahead.Length > readAhead)
            _ahead = new byte[readAhead];
        else if (length == _ahead.Length)
            Array.Resize(ref _ahead, 2 * length);
        else if (_from > 0)
            _ahead.AsSpan(_from, length).CopyTo(_ahead);
        (_from, _to) = (0, length);
    }

    private int Take(Span<byte> into)
    {
        var taken = Math.Min(into.Length, _to - _from);
        _ahead.AsSpan(_from, taken).CopyTo(into);
        _from += taken;
        return taken;
    }

    private static Task<int> Finished(int read) => read <= LongestKnown ? Known[read] : Task.FromResult(read);
}
