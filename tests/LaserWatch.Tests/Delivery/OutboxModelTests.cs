using CsCheck;
using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

/// <summary>Random lives of an outbox against a plain list: crashes at any point, outages, copies, losses before the disk.</summary>
public class OutboxModelTests
{
    private static readonly string[] Names = ["office", "home"];
    private static readonly string[] Alarms = ["coolant-hot", "air-pressure-low", "tube-life"];
    private static readonly DeliveryOptions Options = Told.By([.. Names.Select(n => (n, Told.Everything))]);

    private enum Step
    {
        /// <summary>The watch finds a change; it reaches the outbox, and later the store.</summary>
        Found,

        /// <summary>It reaches the store, and the process dies before the outbox has it.</summary>
        FoundButLost,

        /// <summary>It reaches the outbox, and the process dies before the store has it: the broker sends the sample again.</summary>
        FoundButNotStored,

        /// <summary>One that was found before is offered again.</summary>
        Again,

        /// <summary>An outlet takes what waits first.</summary>
        Deliver,

        /// <summary>An outlet takes it, and the process dies before the mark.</summary>
        DeliverAndDie,

        Restart,
    }

    [Fact]
    public void Every_change_comes_to_every_outlet_in_order_and_once_to_a_receiver_that_honours_the_id() =>
        Gen.Select(Gen.Int[0, 6].Select(i => (Step)i), Gen.Int[0, Names.Length - 1], Gen.Int[0, Alarms.Length - 1]).Array[1, 60].Sample(Check, iter: Rounds.Of(30));

    private static void Check((Step Step, int Outlet, int Alarm)[] life)
    {
        using var folder = new TemporaryFolder();
        var now = Instant.From(DeliveryBench.Start);
        var states = new AlarmState[Alarms.Length];
        var found = new List<AlarmChange>(); // the model: what every outlet must have got in the end
        var stored = new List<AlarmChange>();
        var received = Names.ToDictionary(n => n, _ => new List<AlarmMessage>());
        var ledger = Open();
        foreach (var (step, outlet, alarm) in life)
        {
            now += TimeSpan.FromSeconds(1);
            switch (step)
            {
                case Step.Found:
                    ledger.Enter([(Find(alarm), ChangeOrigin.Live)], now);
                    stored.Add(found[^1]);
                    break;
                case Step.FoundButLost:
                    stored.Add(Find(alarm));
                    Restart();
                    break;
                case Step.FoundButNotStored:
                    ledger.Enter([(Find(alarm), ChangeOrigin.Live)], now);
                    Restart();
                    ledger.Enter([(found[^1], ChangeOrigin.Live)], now);
                    stored.Add(found[^1]);
                    break;
                case Step.Again when found.Count > 0:
                    ledger.Enter([(found[alarm % found.Count], ChangeOrigin.FoundAgain)], now);
                    break;
                case Step.Deliver:
                    Deliver(Names[outlet], marks: true);
                    break;
                case Step.DeliverAndDie:
                    Deliver(Names[outlet], marks: false);
                    Restart();
                    break;
                case Step.Restart:
                    Restart();
                    break;
            }
        }

        foreach (var name in Names)
        {
            while (Deliver(name, marks: true))
            {
            }

            // A receiver that honours the id takes each once; what it sees is the model, in order.
            Assert.Equal(found.Select(c => c.Id()), received[name].Select(m => m.Id).Distinct());
            Assert.Equal(found.Select(c => c.Id()), received[name].DistinctBy(m => m.Id).Select(m => Assert.Single(m.Entries).Change.Id()));
        }

        ledger.Dispose();

        AlarmChange Find(int alarm)
        {
            // Up and down between two states, so that each is news.
            states[alarm] = states[alarm] == AlarmState.Unacknowledged ? AlarmState.ReturnedUnacknowledged : AlarmState.Unacknowledged;
            found.Add(new(now, "bay1", Alarms[alarm], states[alarm], AlarmPriority.High, 1, 2, "°C", null, "m", [], []));
            return found[^1];
        }

        bool Deliver(string name, bool marks)
        {
            if (ledger.Next(name, now) is not { } next)
                return false;
            received[name].Add(next.Message);
            if (marks)
                ledger.Settle(next.Seq, Settlement.Delivered, null, now);
            return true;
        }

        void Restart()
        {
            ledger.Dispose();
            ledger = Open();
            ledger.TakeUp(stored, now);
        }

        OutboxLedger Open() => new(folder.File("a.outbox.db"), new DeliveryRouter(Options), new FloodOptions { StartsAt = 1000 }, now);
    }
}
