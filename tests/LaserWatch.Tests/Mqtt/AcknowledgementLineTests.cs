using CsCheck;

namespace LaserWatch.Mqtt;

public class AcknowledgementLineTests
{
    [Fact]
    public void Completed_in_any_order_they_come_out_in_the_order_of_joining() =>
        Gen.Shuffle(Enumerable.Range(0, 30).ToArray()).Sample(order =>
        {
            var line = new AcknowledgementLine<int>();
            var places = Enumerable.Range(0, 30).Select(line.Join).ToArray();
            var done = new HashSet<int>();
            var came = new List<int>();
            foreach (var i in order)
            {
                places[i]();
                done.Add(i);
                while (line.Ready.TryRead(out var ready))
                    came.Add(ready);

                // The model: the longest row from the first on that is complete.
                if (!came.SequenceEqual(Enumerable.Range(0, 30).TakeWhile(done.Contains)))
                    return false;
            }

            return came.Count == 30;
        });

    [Fact]
    public void Completing_twice_or_after_the_end_does_nothing()
    {
        var line = new AcknowledgementLine<string>();
        var first = line.Join("a");
        var second = line.Join("b");
        first();
        first();
        line.Close();
        second();

        Assert.True(line.Ready.TryRead(out var ready));
        Assert.Equal("a", ready);
        Assert.False(line.Ready.TryRead(out _));
        Assert.True(line.Ready.Completion.IsCompleted);
    }
}
