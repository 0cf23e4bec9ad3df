using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Storage;

/// <summary>By senders in simulated time: the writer commits what waits when so much time has passed since the commit before.</summary>
public class AcknowledgementPaceTests
{
    private const double Quick = 0.05;
    private const double Patience = 1;

    private static readonly double Watched = TimeSpan.FromMinutes(20).TotalSeconds;

    [Theory]
    [InlineData(1, 0.001)]
    [InlineData(1, 0.04)] // a radio link
    [InlineData(3, 0.001)]
    [InlineData(9, 0.001)]
    public void A_sender_that_waits_for_each_acknowledgement_is_held_up_for_a_moment_a_minute(int window, double roundTrip)
    {
        var (messages, _) = Run((sent, acknowledged, lastAcknowledged, last) =>
            sent < acknowledged + window ? Math.Max(last, lastAcknowledged) + (sent == acknowledged ? roundTrip : 0.0001) : double.PositiveInfinity);

        // If nobody were ever held up it would be a window's worth each Quick.
        Assert.InRange(messages, 0.9 * window * Watched / Quick, window * Watched / Quick);
    }

    [Theory]
    [InlineData(2)]
    [InlineData(8)]
    [InlineData(20)]
    public void Messages_that_come_evenly_are_committed_by_the_patience(int perSecond)
    {
        var (messages, commits) = Run((_, _, _, last) => last + (1.0 / perSecond));

        Assert.Equal(perSecond * Watched, messages, tolerance: 2.0);
        Assert.InRange(commits, 0, (Watched / Patience) + 2);
    }

    [Fact]
    public void A_machine_that_sends_all_its_channels_at_once_each_second_takes_two_commits_a_second()
    {
        var (_, commits) = Run((sent, _, _, last) => sent % 8 == 0 ? Math.Floor(last) + 1 : last + 0.002);

        Assert.InRange(commits, 0, (2 * Watched) + 2); // the first of them at once
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Messages_that_come_at_random_are_hardly_ever_taken_for_one_that_waits(int seed)
    {
        var random = new Random(seed);
        var (_, commits) = Run((_, _, _, last) => last - (Math.Log(1 - random.NextDouble()) / 8));

        Assert.InRange(commits, 0, 1.1 * Watched / Patience);
    }

    /// <summary>When the next message comes, in seconds; infinite: not before something is acknowledged.</summary>
    private delegate double Sender(long sent, long acknowledged, double lastAcknowledged, double lastSent);

    private static (long Messages, long Commits) Run(Sender sender)
    {
        var time = new FakeTimeProvider();
        var began = time.GetUtcNow();
        var pace = new AcknowledgementPace(TimeSpan.FromSeconds(Patience), time);
        var (sent, acknowledged, commits) = (0L, 0L, 0L);
        var (lastSent, lastCommit) = (0.0, double.NegativeInfinity);
        var next = sender(0, 0, 0, 0);
        while (true)
        {
            var due = sent == acknowledged ? double.PositiveInfinity : Math.Max(lastSent, lastCommit + (pace.IsAwaited ? Quick : Patience));
            var now = Math.Min(next, due);
            if (now > Watched)
                return (sent, commits);
            time.SetUtcNow(began.AddSeconds(now));
            if (next <= due)
            {
                pace.Came();
                lastSent = next;
                sent++;
                next = sender(sent, acknowledged, lastCommit, lastSent);
            }
            else
            {
                pace.Acknowledges();
                acknowledged = sent;
                lastCommit = now;
                commits++;
                if (double.IsPositiveInfinity(next))
                    next = sender(sent, acknowledged, lastCommit, lastSent);
            }
        }
    }
}
