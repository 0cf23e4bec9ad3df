using System.Text;
using LaserWatch.Payloads;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>What sensors send. The law is that of <see cref="MessageDecoderTests"/>, whose own random tests change less at a time.</summary>
public class PayloadFuzzTests(ITestOutputHelper output)
{
    [Fact]
    public void Messages_of_any_bytes_give_samples_events_or_a_rejection()
    {
        // The first byte of a case chooses the topic.
        var topics = MessageDecoderTests.AnyTopics;
        byte[][] seeds = [.. from topic in Enumerable.Range(0, topics.Length) from payload in MessageDecoderTests.GoodPayloads select (byte[])[(byte)topic, .. Encoding.UTF8.GetBytes(payload)]];
        string[] words = ["\"value\":", "\"time\":", "\"bn\":", "\"bt\":", "\"n\":", "\"v\":", "\"vs\":", "\"for\":", "P1Y", "PT999999999H", "2026-02-30T25:00:00Z", "\"u\":\"bar\""];
        new Fuzzing(output, seeds, words, bytes =>
        {
            if (bytes.Length > 0)
                MessageDecoderTests.AssertSound(topics[bytes[0] % topics.Length], bytes[1..]);
        }).Run(cases: 30_000);
    }
}
