using System.Threading.Channels;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Mqtt;

public class DropCountTests
{
    [Fact]
    public void An_inbox_at_its_limit_is_logged_when_it_begins_and_when_nothing_was_dropped_for_ten_seconds()
    {
        var time = new FakeTimeProvider();
        var log = new LogLines<DropCount>();
        var drops = new DropCount(time, log);
        var full = FullInbox();
        drops.Pass();
        for (var i = 0; i < 100; i++)
        {
            drops.Drop(full);
            time.Advance(TimeSpan.FromSeconds(1));
            drops.Pass();
        }

        time.Advance(TimeSpan.FromSeconds(8.9));
        drops.Pass();
        Assert.Single(log.All);
        time.Advance(TimeSpan.FromSeconds(0.1));
        drops.Pass();
        drops.Pass();

        Assert.Equal(
            ["The inbox is full: QoS 0 messages are being dropped", "The inbox has room again; 100 QoS 0 messages were dropped since the start"],
            log.All.Select(l => l.Text));
    }

    [Fact]
    public void Messages_that_come_after_the_inbox_was_closed_for_a_stop_are_no_trouble()
    {
        var log = new LogLines<DropCount>();
        var drops = new DropCount(new FakeTimeProvider(), log);
        var inbox = FullInbox();
        inbox.Complete();
        drops.Drop(inbox);

        Assert.Equal(0, drops.Dropped);
        Assert.Empty(log.All);
    }

    [Fact]
    public async Task Closing_ends_the_counting_also_where_messages_were_dropped_before()
    {
        var log = new LogLines<DropCount>();
        var drops = new DropCount(new FakeTimeProvider(), log);
        var inbox = FullInbox();
        drops.Drop(inbox);
        inbox.Complete();

        // The inbox tells on another thread that it is closed.
        await RealBroker.UntilAsync(
            () =>
            {
                var before = drops.Dropped;
                drops.Drop(inbox);
                return drops.Dropped == before;
            },
            "still counting");
        Assert.Single(log.All);
    }

    private static ChannelWriter<RawMessage> FullInbox()
    {
        var inbox = Channel.CreateBounded<RawMessage>(1).Writer;
        Assert.True(inbox.TryWrite(default));
        return inbox;
    }
}
