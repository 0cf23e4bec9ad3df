using System.Diagnostics;
using System.Globalization;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>What a further machine costs: time for each sample, and memory.</summary>
/// <remarks>
/// The same thousand machines are shown the same samples each time, so that the work is the same to the bit. Only the order differs: one machine after
/// the other, each with all that is in the caches to itself, or a second of each in turn.
/// </remarks>
internal static class Growth
{
    public static Bench Bench { get; } = new("growth", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        var whole = length == Length.Whole;
        var working = whole ? 5 : 1;
        var days = new RecordedDays(working, SimulatedShop.EightChannelsEachSecond("bay1", 1, working));
        List<Figure> figures =
        [
            .. await PipelineGrowth.MeasureAsync(days, length, stop),
            Time("one machine to a thousand: time a sample in the rules, a second's samples together", _ => (n, _, watch, later) => days.Play(n, watch, later), whole, stop),
            Time("one machine to a thousand: time a sample in the rules, each by itself", _ => (n, _, watch, later) => days.PlayOneByOne(n, watch, later), whole, stop),
            Time("one machine to a thousand: time a sample from its message to the verdict", shop => FromMessages(days, shop), whole, stop),
            Memory(days, whole ? 50 : 5, 1, "a working day", stop),
        ];
        if (whole)
            figures.Add(Memory(days, 3, 60, "three months", stop));
        return figures;
    }

    private delegate int Player(int number, int machine, MachineWatch watch, TimeSpan later);

    private static Player FromMessages(RecordedDays days, Shop shop)
    {
        var decoder = new MessageDecoder(PayloadOptions.Default, [], [], new ChannelTable());
        var decoded = new DecodedMessage();
        var topics = shop.Machines.Select(m => Channel.Canonical.Select(c => $"{PayloadOptions.Default.Root}/{m.Machine}/{c.Name}").ToArray()).ToArray();
        return (n, machine, _, later) => days.PlayMessages(n, shop, topics[machine], decoder, decoded, later);
    }

    private static Figure Time(string what, Func<Shop, Player> playerOf, bool whole, CancellationToken stop)
    {
        var machines = whole ? 1000 : 50;
        // From within the day: beginnings are cheap.
        var (first, seconds) = (3000, whole ? 300 : 60);
        var shop = NewShop();
        var watches = Enumerable.Range(0, machines).Select(i => shop.Find($"bay{i}")!).ToArray();
        var play = playerOf(shop);
        int[] groups = [1, 10, 100, machines];
        var best = Enumerable.Repeat(double.MaxValue, groups.Length).ToArray();
        var later = TimeSpan.Zero;
        for (var round = 0; round < (whole ? 6 : 2); round++)
        {
            for (var g = 0; g < groups.Length; g++)
            {
                stop.ThrowIfCancellationRequested();
                var began = Stopwatch.GetTimestamp();
                var samples = InTurns(watches, groups[g], first, seconds, play, later);
                var each = Stopwatch.GetElapsedTime(began).TotalNanoseconds / samples;
                // The first round learns, and is compiled.
                if (round > 0)
                    best[g] = Math.Min(best[g], each);
                later += TimeSpan.FromDays(7);
            }
        }

        var growth = (best[^1] / best[0]) - 1;
        var course = string.Join(", ", groups.Select((g, i) => string.Create(CultureInfo.InvariantCulture, $"{g}: {best[i]:0}")));
        return new Figure(
            what, string.Create(CultureInfo.InvariantCulture, $"{best[^1]:0} ns"), string.Create(CultureInfo.InvariantCulture, $"{best[0]:0} ns, one alone ({course})"),
            100 * growth, Goal.AtMost(20, "%"), (-60, 500));
    }

    private static long InTurns(MachineWatch[] watches, int together, int first, int seconds, Player play, TimeSpan later)
    {
        var samples = 0L;
        for (var from = 0; from < watches.Length; from += together)
        {
            for (var second = first; second < first + seconds; second++)
            {
                for (var i = from; i < Math.Min(from + together, watches.Length); i++)
                    samples += play(second, i, watches[i], later);
            }
        }

        return samples;
    }

    private static Figure Memory(RecordedDays days, int machines, int daysPlayed, string span, CancellationToken stop)
    {
        var shop = NewShop();
        Play(shop.Find("first")!);
        var before = GC.GetTotalMemory(forceFullCollection: true);
        for (var i = 0; i < machines; i++)
        {
            stop.ThrowIfCancellationRequested();
            Play(shop.Find($"bay{i}")!);
        }

        var each = (GC.GetTotalMemory(forceFullCollection: true) - before) / 1000.0 / machines;
        GC.KeepAlive(shop);
        return new Figure(
            $"one machine more: memory after {span} of 8 channels at 1 Hz", string.Create(CultureInfo.InvariantCulture, $"{each:0.0} kB"), "",
            each, Goal.AtMost(100, "kB"), (1, 1000));

        void Play(MachineWatch watch)
        {
            for (var (played, week) = (0, 0); played < daysPlayed; played += days.Days, week++)
            {
                var until = days.Count * Math.Min(daysPlayed - played, days.Days) / days.Days;
                for (var n = 0; n < until; n++)
                    days.Play(n, watch, TimeSpan.FromDays(7 * week));
            }
        }
    }

    private static Shop NewShop()
    {
        var jobs = new JobBook();
        foreach (var job in SimulatedShop.Jobs)
            jobs.Add(job);
        return new Shop(new LaserWatchOptions().RulesOf, jobs);
    }
}
