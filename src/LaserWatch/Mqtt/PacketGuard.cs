using System.Buffers;
using System.IO.Pipelines;
using MQTTnet.Exceptions;

namespace LaserWatch.Mqtt;

/// <summary>Ends a connection at a packet that is too large, or that breaks off, before the library waits for the rest of it.</summary>
/// <remarks>
/// The library gathers packets of up to 256 MB before anybody has logged in, and asks again without a pause for the rest of one whose sender has
/// hung up. It reads whole packets only, so each read begins with a header (MQTT 5.0, section 2.1): its length is all that is looked at here.
/// </remarks>
/// <param name="tooLarge">Called with the bound that was passed.</param>
internal sealed class PacketGuard(IDuplexPipe inner, int mostBytes, Action<int> tooLarge) : PipeReader, IDuplexPipe
{
    private const int LongestLength = 4;

    /// <summary>Of a packet after its length; may be changed between two packets.</summary>
    public int MostBytes { get; set; } = mostBytes;

    PipeReader IDuplexPipe.Input => this;

    PipeWriter IDuplexPipe.Output => inner.Output;

    public override async ValueTask<ReadResult> ReadAsync(CancellationToken cancellationToken = default) =>
        Check(await inner.Input.ReadAsync(cancellationToken));

    public override bool TryRead(out ReadResult result)
    {
        if (!inner.Input.TryRead(out result))
            return false;
        Check(result);
        return true;
    }

    public override void AdvanceTo(SequencePosition consumed) => inner.Input.AdvanceTo(consumed);

    public override void AdvanceTo(SequencePosition consumed, SequencePosition examined) => inner.Input.AdvanceTo(consumed, examined);

    public override void CancelPendingRead() => inner.Input.CancelPendingRead();

    public override void Complete(Exception? exception = null) => inner.Input.Complete(exception);

    private ReadResult Check(in ReadResult result)
    {
        var packet = Measure(result.Buffer);
        if (packet is { Length: var length } && length > MostBytes)
        {
            tooLarge(MostBytes);
            throw new MqttProtocolViolationException($"A packet of {length} bytes is too large.");
        }

        var isWhole = packet is { } known && known.Header + known.Length <= result.Buffer.Length;
        if (result.IsCompleted && !result.Buffer.IsEmpty && !isWhole)
            throw new MqttCommunicationException("The connection ended within a packet.");
        return result;
    }

    /// <returns>Null where the length has not come, or is none: then the library refuses it.</returns>
    private static (int Header, int Length)? Measure(in ReadOnlySequence<byte> packet)
    {
        var reader = new SequenceReader<byte>(packet);
        reader.Advance(Math.Min(1, packet.Length));
        for (int length = 0, i = 0; i < LongestLength && reader.TryRead(out var next); i++)
        {
            length |= (next & 0x7F) << (7 * i);
            if (next < 0x80)
                return (i + 2, length);
        }

        return null;
    }
}
