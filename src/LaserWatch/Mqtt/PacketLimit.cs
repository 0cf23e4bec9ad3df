using System.Buffers;
using System.Net;
using System.Security.Cryptography.X509Certificates;
using MQTTnet.Channel;
using MQTTnet.Exceptions;

namespace LaserWatch.Mqtt;

/// <summary>Ends a connection at a packet that is too large, before anything is put by for it.</summary>
/// <remarks>
/// The library makes room for a packet as soon as it knows its length, up to 256 MB, and before anybody has logged in. So the
/// lengths are read along here (MQTT 5.0, section 2.1.4).
/// </remarks>
/// <param name="tooLarge">Called with the bound that was passed.</param>
internal sealed class PacketLimit(IMqttChannel inner, int mostBytes, Action<int> tooLarge) : IMqttChannel
{
    private bool _inLength;
    private int _shift;
    private int _length;
    private int _left;

    /// <summary>Of a packet after its length; may be changed between two packets.</summary>
    public int MostBytes { get; set; } = mostBytes;

    public X509Certificate2 ClientCertificate => inner.ClientCertificate;

    public EndPoint RemoteEndPoint => inner.RemoteEndPoint;

    public EndPoint LocalEndPoint => inner.LocalEndPoint;

    public bool IsSecureConnection => inner.IsSecureConnection;

    public Task ConnectAsync(CancellationToken cancellationToken) => inner.ConnectAsync(cancellationToken);

    public Task DisconnectAsync(CancellationToken cancellationToken) => inner.DisconnectAsync(cancellationToken);

    public Task WriteAsync(ReadOnlySequence<byte> buffer, bool isEndOfPacket, CancellationToken cancellationToken) =>
        inner.WriteAsync(buffer, isEndOfPacket, cancellationToken);

    public Task<int> ReadAsync(byte[] buffer, int offset, int count, CancellationToken cancellationToken)
    {
        var reading = inner.ReadAsync(buffer, offset, count, cancellationToken);
        if (!reading.IsCompletedSuccessfully)
            return ReadAlongAsync(reading, buffer, offset);
        ReadAlong(buffer.AsSpan(offset, reading.Result));
        return reading;
    }

    public void Dispose() => inner.Dispose();

    private async Task<int> ReadAlongAsync(Task<int> reading, byte[] buffer, int offset)
    {
        var read = await reading;
        ReadAlong(buffer.AsSpan(offset, read));
        return read;
    }

    private void ReadAlong(ReadOnlySpan<byte> bytes)
    {
        while (!bytes.IsEmpty)
        {
            if (_left > 0)
            {
                var within = Math.Min(_left, bytes.Length);
                _left -= within;
                bytes = bytes[within..];
                continue;
            }

            if (_inLength)
            {
                _length |= (bytes[0] & 0x7F) << _shift;
                _shift += 7;
                _inLength = bytes[0] >= 0x80 && _shift < 28;
                if (!_inLength)
                    _left = _length;
                if (_length > MostBytes)
                {
                    tooLarge(MostBytes);
                    throw new MqttProtocolViolationException($"A packet of {_length} bytes is too large.");
                }
            }
            else
            {
                // The first byte of a packet: its kind.
                _inLength = true;
                _shift = _length = 0;
            }

            bytes = bytes[1..];
        }
    }
}
