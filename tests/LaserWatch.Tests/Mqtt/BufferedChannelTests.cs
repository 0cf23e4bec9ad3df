using System.Buffers;
using System.Net;
using System.Security.Cryptography.X509Certificates;
using System.Threading.Channels;
using CsCheck;
using MQTTnet.Channel;

namespace LaserWatch.Mqtt;

public class BufferedChannelTests
{
    [Fact]
    public void However_the_bytes_come_and_are_asked_for_they_are_the_same() =>
        Gen.Select(Gen.Byte.Array[1, 5000], Gen.Int[1, 700].Array[1, 20], Gen.Int[1, 900].Array[1, 20], Gen.Int[1, 600]).SampleAsync(async (bytes, comes, asks, ahead) =>
        {
            using var channel = new BufferedChannel(new Trickle(bytes, comes), ahead);
            var got = new List<byte>();
            for (var i = 0; ; i++)
            {
                if (i % 3 == 0 && await channel.FillAsync(default))
                {
                    // Some are looked at where they lie, the rest is read.
                    var looked = Math.Min(asks[i % asks.Length], channel.Ahead.Length);
                    got.AddRange(channel.Ahead[..looked]);
                    channel.Skip(looked);
                }

                var buffer = new byte[asks[i % asks.Length]];
                var read = await channel.ReadAsync(buffer, 0, buffer.Length, default);
                if (read == 0)
                    break;
                got.AddRange(buffer.AsSpan(0, read));
            }

            Assert.Equal(bytes, got);
        }, iter: 300);

    [Fact]
    public async Task A_fault_met_while_filling_is_told_to_who_reads_next()
    {
        using var channel = new BufferedChannel(new Trickle([1, 2, 3], [3]) { ThenFails = true }, 10);

        Assert.True(await channel.FillAsync(default));
        Assert.False(await channel.FillAsync(default));
        Assert.Equal([1, 2, 3], channel.Ahead.ToArray());
        channel.Skip(3);

        await Assert.ThrowsAsync<IOException>(() => channel.ReadAsync(new byte[5], 0, 5, default));
    }

    [Fact]
    public async Task A_crowd_in_the_inbox_holds_up_the_reading_for_a_while_and_no_longer()
    {
        var inbox = Channel.CreateUnbounded<RawMessage>();
        for (var i = 0; i <= InboxGate.Crowd; i++)
            inbox.Writer.TryWrite(default);
        var time = new Microsoft.Extensions.Time.Testing.FakeTimeProvider();
        var gate = new InboxGate(inbox.Reader, time);
        using var channel = new BufferedChannel(new Trickle([1, 2, 3], [1]), 10, gate);

        var held = channel.FillAsync(default).AsTask();
        Assert.False(held.IsCompleted);
        for (var i = 0; !held.IsCompleted && i < 10_000; i++)
        {
            time.Advance(TimeSpan.FromMilliseconds(10));
            await Task.Yield();
        }

        Assert.True(await held);
        Assert.True(channel.FillAsync(default).AsTask().IsCompletedSuccessfully); // and not for each read anew

        while (inbox.Reader.TryRead(out _))
        {
        }

        Assert.True(await channel.FillAsync(default));
    }

    /// <summary>Bytes that come in pieces.</summary>
    private sealed class Trickle(byte[] bytes, int[] pieces) : IMqttChannel
    {
        private int _at;
        private int _piece;

        public bool ThenFails { get; init; }

        public X509Certificate2 ClientCertificate => null!;

        public EndPoint RemoteEndPoint => null!;

        public EndPoint LocalEndPoint => null!;

        public bool IsSecureConnection => false;

        public Task ConnectAsync(CancellationToken cancellationToken) => Task.CompletedTask;

        public Task DisconnectAsync(CancellationToken cancellationToken) => Task.CompletedTask;

        public async Task<int> ReadAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken)
        {
            if (_piece % 2 == 0)
                await Task.Yield();
            if (ThenFails && _at == bytes.Length)
                throw new IOException("gone");
            var read = Math.Min(Math.Min(count, pieces[_piece++ % pieces.Length]), bytes.Length - _at);
            bytes.AsSpan(_at, read).CopyTo(buffer.AsSpan(offset));
            _at += read;
            return read;
        }

        public Task WriteAsync(ReadOnlySequence<byte> buffer, bool isEndOfPacket, CancellationToken cancellationToken) => Task.CompletedTask;

        public void Dispose()
        {
        }
    }
}
