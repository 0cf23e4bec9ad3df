using System.Net;
using LaserWatch.Fakes;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Storage.Influx;

/// <summary>What a full spool does to the queue in front of the store, and so to the broker.</summary>
public sealed class InfluxBackPressureTests(InfluxShop shop) : IClassFixture<InfluxShop>
{
    [SkippableFact]
    public async Task While_the_spool_is_full_nothing_more_is_acknowledged_and_afterwards_all_that_was_accepted_is_there_and_the_rest_is_a_gap()
    {
        var options = shop.Options();
        options = options with { Influx = options.Influx! with { SpoolMegabytes = 1 } };
        shop.Shim.OnWrite = _ => (HttpStatusCode.ServiceUnavailable, "not now");
        await using var store = InfluxShop.Open(options);
        var time = new FakeTimeProvider(); // the queue's own waits, up to 30 s
        await using var writer = new SampleWriter(store, new SampleWriterOptions { Capacity = 5000 }, time, new CollectingLogger<SampleWriter>());
        var start = new Instant(1773041400000000000);
        var accepted = new List<Sample>();
        var acknowledged = 0;
        var refusedQos0 = 0;
        for (var i = 0; !writer.IsStoreFailing || refusedQos0 < 100; i++)
        {
            Assert.True(i < 2_000_000, "the spool never fills");
            var sample = new Sample(Channel.Power, start + TimeSpan.FromMilliseconds(i), i);

            // Half of them at QoS 1, with an acknowledgement to give.
            if (writer.TryEnqueue("bay1", sample, i % 2 == 0 ? () => Interlocked.Increment(ref acknowledged) : null))
                accepted.Add(sample);
            else if (i % 2 != 0)
                refusedQos0++;
            if (writer.Waiting > 4000 && !writer.IsStoreFailing)
            {
                time.Advance(TimeSpan.FromSeconds(1));
                await Task.Delay(1);
            }
        }

        var before = Volatile.Read(ref acknowledged);
        Assert.InRange(before, 1, accepted.Count(s => s.Value % 2 == 0) - 1);
        time.Advance(TimeSpan.FromMinutes(1));
        Assert.Equal(before, Volatile.Read(ref acknowledged));

        shop.Shim.OnWrite = null;
        using var patience = new CancellationTokenSource(TimeSpan.FromSeconds(60));
        var flushed = writer.FlushAsync(patience.Token);
        while (!flushed.IsCompleted)
        {
            time.Advance(TimeSpan.FromSeconds(1));
            await Task.Delay(10, patience.Token);
        }

        await flushed;
        await RealBroker.UntilAsync(() => store.ReadWaiting().Lines == 0, "what waited is not sent");

        Assert.Equal(accepted.Count(s => s.Value % 2 == 0), Volatile.Read(ref acknowledged));
        Assert.Equal(accepted, await store.ReadSamplesAsync("bay1", null, Instant.MinValue, Instant.MaxValue, new ChannelTable(), default).ToListAsync());
        Assert.Equal(refusedQos0, (await store.ReadGapsAsync("bay1", Instant.MinValue, Instant.MaxValue, default)).Sum(gap => gap.Lost));
    }
}
