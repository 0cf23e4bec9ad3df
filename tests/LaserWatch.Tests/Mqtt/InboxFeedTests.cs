using System.Threading.Channels;

namespace LaserWatch.Mqtt;

public class InboxFeedTests
{
    [Fact]
    public async Task While_the_inbox_is_full_quality_0_is_dropped_and_quality_1_waits_its_turn()
    {
        var inbox = Channel.CreateBounded<RawMessage>(1);
        using var feed = new InboxFeed(inbox.Writer, mostWaiting: 2);

        Assert.Equal(Offered.Taken, feed.Offer(Message(1)));
        Assert.Equal(Offered.Dropped, feed.Offer(Message(0)));
        Assert.Equal(Offered.Taken, feed.Offer(Message(2)));
        Assert.Equal(Offered.Taken, feed.Offer(Message(3)));
        Assert.Equal(Offered.Refused, feed.Offer(Message(4)));
        Assert.Equal(2, feed.Waiting);

        using var stop = new CancellationTokenSource();
        var pumping = feed.PumpAsync(stop.Token);
        var heard = new List<int> { await NextAsync(inbox), await NextAsync(inbox), await NextAsync(inbox) };
        Assert.Equal([1, 2, 3], heard);
        await stop.CancelAsync();
        await Assert.ThrowsAnyAsync<OperationCanceledException>(() => pumping);
    }

    [Fact]
    public async Task Many_from_one_side_and_one_reader_on_the_other_lose_nothing_and_keep_the_order()
    {
        var inbox = Channel.CreateBounded<RawMessage>(3);
        using var feed = new InboxFeed(inbox.Writer);
        var pumping = feed.PumpAsync(default);
        var offering = Task.Run(() =>
        {
            for (var i = 1; i <= 60_000; i++)
                Assert.Equal(Offered.Taken, feed.Offer(Message((ushort)i)));
        });

        for (var i = 1; i <= 60_000; i++)
            Assert.Equal(i, await NextAsync(inbox));
        await offering;
        inbox.Writer.Complete();
        feed.Offer(Message(1));
        await pumping.WaitAsync(TimeSpan.FromSeconds(20));
    }

    private static async Task<int> NextAsync(Channel<RawMessage> inbox) => (await inbox.Reader.ReadAsync()).PacketId;

    private static RawMessage Message(ushort id) => new("t", default, default, "s", id, false, false, id == 0 ? null : () => { });
}
