using System.Text;
using LaserWatch.Mqtt;
using LaserWatch.Storage;

namespace LaserWatch.Pipeline;

public class DeliveryMarkTests
{
    private static RawMessage Message(string topic, string payload, ushort packetId = 7) =>
        new(topic, Encoding.UTF8.GetBytes(payload), default, "agent", packetId, false, false, null);

    // Computed with Python's hashlib over the same bytes: the mark must outlive the process that made it.
    [Fact]
    public void The_mark_is_the_same_in_every_process() =>
        Assert.Equal(new PacketDelivery("agent", 7, 0x6BCB54F8986B104A), DeliveryMark.Of(Message("laserwatch/bay1/air_pressure", "182.4")));

    [Fact]
    public void Topic_payload_and_packet_each_make_another_mark()
    {
        var mark = DeliveryMark.Of(Message("ab", "c"));

        Assert.NotEqual(mark, DeliveryMark.Of(Message("a", "bc")));
        Assert.NotEqual(mark, DeliveryMark.Of(Message("ab", "d")));
        Assert.NotEqual(mark, DeliveryMark.Of(Message("ab", "c", packetId: 8)));
        Assert.NotEqual(DeliveryMark.Of(Message("ab", "ab")), DeliveryMark.Of(Message("cd", "cd")));
    }

    [Fact]
    public void A_message_at_qos_0_has_none() => Assert.Null(DeliveryMark.Of(Message("ab", "c", packetId: 0)));
}
