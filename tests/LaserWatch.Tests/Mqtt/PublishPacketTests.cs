using System.Buffers;
using System.Text;
using CsCheck;
using MQTTnet;
using MQTTnet.Exceptions;
using MQTTnet.Formatter;
using MQTTnet.Packets;
using MQTTnet.Protocol;

namespace LaserWatch.Mqtt;

public class PublishPacketTests
{
    private static readonly Gen<MqttPublishPacket> Packets =
        from topic in Gen.String[Gen.Char['a', 'ÿ'], 1, 40]
        from payload in Gen.Byte.Array[0, 300]
        from quality in Gen.Int[0, 2]
        from id in Gen.UShort[1, ushort.MaxValue]
        from sentAgain in Gen.Bool
        from retained in Gen.Bool
        from properties in Gen.Int[0, 3]
        select new MqttPublishPacket
        {
            Topic = topic,
            Payload = new ReadOnlySequence<byte>(payload),
            QualityOfServiceLevel = (MqttQualityOfServiceLevel)quality,
            PacketIdentifier = quality == 0 ? (ushort)0 : id,
            Dup = sentAgain && quality > 0,
            Retain = retained,
            ContentType = properties > 0 ? new string('t', 70 * properties) : null,
            UserProperties = properties > 1 ? [new MqttUserProperty("a", new byte[] { 1 })] : null,
        };

    [Theory]
    [InlineData(MqttProtocolVersion.V311)]
    [InlineData(MqttProtocolVersion.V500)]
    public void What_the_library_writes_is_read_as_it_was_meant(MqttProtocolVersion version) =>
        Packets.Sample(packet =>
        {
            var bytes = Bytes(packet, version);
            var length = PublishPacket.Measure(bytes, out var header);
            var read = PublishPacket.Read(bytes, header, version == MqttProtocolVersion.V500);
            return length == bytes.Length
                && Encoding.UTF8.GetString(read.Topic) == packet.Topic
                && read.Payload.SequenceEqual(packet.Payload.ToArray())
                && read.Quality == (int)packet.QualityOfServiceLevel
                && read.PacketId == packet.PacketIdentifier
                && read.SentAgain == packet.Dup
                && read.Retained == packet.Retain;
        });

    [Fact]
    public void Bytes_of_any_kind_are_read_or_said_to_be_none() =>
        Gen.Byte.Array[2, 60].Sample(bytes =>
        {
            bytes[0] = (byte)(0x30 | (bytes[0] & 0xF));
            try
            {
                var length = PublishPacket.Measure(bytes, out var header);
                if (length > 0 && length <= bytes.Length)
                    PublishPacket.Read(bytes.AsSpan(0, length), header, five: bytes[^1] % 2 == 0);
            }
            catch (MqttProtocolViolationException)
            {
                // What it is documented to say.
            }
        });

    [Fact]
    public void While_the_length_has_not_come_whole_nothing_is_said()
    {
        Assert.Equal(0, PublishPacket.Measure([], out _));
        Assert.Equal(0, PublishPacket.Measure([0x30], out _));
        Assert.Equal(0, PublishPacket.Measure([0x30, 0x80], out _));
        Assert.Equal(131, PublishPacket.Measure([0x30, 0x80, 0x01], out var header));
        Assert.Equal(3, header);
        Assert.Throws<MqttProtocolViolationException>(() => PublishPacket.Measure([0x30, 0x80, 0x80, 0x80, 0x80, 0x80], out _));
    }

    [Fact]
    public void A_topic_is_the_same_string_each_time_and_of_any_length()
    {
        var names = new TopicNames();
        var first = names.Of("laserwatch/bay1/lasing"u8);

        Assert.Equal("laserwatch/bay1/lasing", first);
        Assert.Same(first, names.Of("laserwatch/bay1/lasing"u8));
        Assert.Equal(new string('ü', 400), names.Of(Encoding.UTF8.GetBytes(new string('ü', 400))));
        Assert.Equal("a�", names.Of([(byte)'a', 0xFF]));
        for (var i = 0; i < 30_000; i++)
            Assert.Equal($"t/{i}", names.Of(Encoding.UTF8.GetBytes($"t/{i}")));
    }

    private static byte[] Bytes(MqttPublishPacket packet, MqttProtocolVersion version) =>
        new MqttPacketFormatterAdapter(version, new MqttBufferWriter(4096, 65535)).Encode(packet).ToArray();
}
