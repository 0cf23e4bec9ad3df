using LaserWatch.Proof;
using LaserWatch.Telemetry;

namespace LaserWatch.Tests.Proof;

public sealed class SampleLeavesTests
{
    [Fact]
    public void One_machine_after_the_other_in_the_same_room_has_the_leaves_that_each_has_by_itself()
    {
        var together = new SampleLeaves("");
        foreach (var machine in (string[])["bay1", "a-longer-name-of-a-machine", "bay2"])
        {
            // What a machine's own channels are called by number is another channel at the next.
            var table = new ChannelTable();
            string[] names = machine == "bay2" ? ["tube_current", "exhaust_flow"] : ["exhaust_flow", "door", "tube_current"];
            var channels = names.Select(name => table.TryGet(name, out var channel) ? channel : throw new InvalidOperationException(name)).ToArray();
            var alone = new SampleLeaves(machine);
            together.Clear(machine);
            for (var second = 0; second < 300; second++)
            {
                foreach (var channel in channels)
                {
                    Assert.True(alone.Add(channel, Instant.FromUnixSeconds(1_790_000_000 + second), second % 7));
                    Assert.True(together.Add(channel, Instant.FromUnixSeconds(1_790_000_000 + second), second % 7));
                }
            }

            // The last machine's minute is left open: the next must not find it.
            if (machine != "bay1")
                together.Complete();
            alone.Complete();

            Assert.Equal(machine == "bay1" ? alone.Leaves.Take(together.Leaves.Count) : alone.Leaves, together.Leaves);
            Assert.True(together.Leaves.Count >= 5 * channels.Length);
        }
    }
}
