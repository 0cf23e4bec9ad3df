using System.Runtime.InteropServices;
using CsCheck;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Reports;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>Whoever listens to a machine's past comes to the same whether its samples are told as moments or one by one.</summary>
public class TogetherOrSinglyTests
{
    private static readonly Channel[] Channels =
        [Channel.TubeCurrent, Channel.Power, Channel.Lasing, Channel.AirPressure, Channel.CoolantIn, Channel.AmbientTemperature, Channel.AmbientHumidity, Channel.Runtime];

    private static readonly int[] Missing = [0, 0, 5, 60];

    private static readonly MonitorOptions Options = TubeShop.Options with
    {
        TubeCurrent = TubeShop.Options.TubeCurrent with { RatedCurrentMilliamps = 18, LearnBeamHours = 0.02 },
    };

    /// <summary>Minutes of cutting, of rest and of nothing heard, channels that are silent now and then, values no sensor can say, runs, a new tube and annotated spans.</summary>
    private static readonly Gen<(int Seed, int Stretches, int Missing)> Pasts = Gen.Select(Gen.Int[1, 1_000_000], Gen.Int[1, 25], Gen.Int[0, 3].Select(i => Missing[i]));

    [Fact]
    public void The_tubes_are_the_same_and_what_is_told_by_shortcuts_too()
    {
        var blocks = 0;
        Pasts.Sample(
            past =>
            {
                var plain = Tell(past, new TubeHistory(Options, TubeShop.Book) { Shortcuts = false }, together: false);
                foreach (var together in new[] { false, true })
                {
                    var swift = Tell(past, new TubeHistory(Options, TubeShop.Book), together);

                    Assert.Equal(plain.Tubes, swift.Tubes);
                    Assert.Equal((plain.First, plain.SeesPower, plain.SeesCurrent), (swift.First, swift.SeesPower, swift.SeesCurrent));
                    foreach (var tube in plain.Tubes)
                    {
                        Assert.Equal(plain.BlocksOf(tube.Number).Blocks, swift.BlocksOf(tube.Number).Blocks);
                        Assert.Equal(plain.BlocksOf(tube.Number).Baselines, swift.BlocksOf(tube.Number).Baselines);
                        blocks += plain.BlocksOf(tube.Number).Blocks.Count;
                    }
                }
            },
            iter: Rounds.Of(100), threads: 1);
        Assert.True(blocks > 1000, $"{blocks} blocks are too few to show anything");
    }

    [Fact]
    public void The_days_of_a_channel_are_the_same() => Pasts.Sample(
        past =>
        {
            foreach (var (channel, beamBy) in new[] { (Channel.AirPressure, Channel.Lasing), (Channel.TubeCurrent, Channel.TubeCurrent), (Channel.AmbientHumidity, null) })
            {
                var plain = Tell(past, new ChannelHistory(channel, beamBy, Options), together: false);

                Assert.Equal(plain.Days, Tell(past, new ChannelHistory(channel, beamBy, Options), together: true).Days);
            }
        },
        iter: Rounds.Of(50), threads: 1);

    [Fact]
    public void The_hours_of_the_tubes_are_the_same() => Pasts.Sample(
        past =>
        {
            var (plain, swift) = (Tell(past, new TubeHours(Options), together: false), Tell(past, new TubeHours(Options), together: true));
            var tubes = Tell(past, new TubeHistory(Options, TubeShop.Book), together: false).Tubes;

            Assert.All(tubes, tube => Assert.Equal(plain.AgeOf(tube, Instant.MaxValue), swift.AgeOf(tube, Instant.MaxValue)));
        },
        iter: Rounds.Of(50), threads: 1);

    [Fact]
    public void The_operating_conditions_are_the_same() => Pasts.Sample(
        past =>
        {
            var (plain, swift) = (Conditions(past, together: false), Conditions(past, together: true));

            Assert.Equal((plain.First, plain.Last, plain.Samples), (swift.First, swift.Last, swift.Samples));
            Assert.Equal(plain.Heard, swift.Heard);
            Assert.Equal(plain.Limits, swift.Limits);
            Assert.Equal(plain.AllLimits, swift.AllLimits);
            Assert.Equal((plain.HeardSeconds, plain.BeamSeconds, plain.RunSeconds, plain.BeamInRunSeconds, plain.BeamOfUnknownPowerSeconds),
                (swift.HeardSeconds, swift.BeamSeconds, swift.RunSeconds, swift.BeamInRunSeconds, swift.BeamOfUnknownPowerSeconds));
            Assert.Equal(plain.PowerBands, swift.PowerBands);
            Assert.Equal(plain.Days, swift.Days);
            Assert.Equal(plain.Ranges.Keys, swift.Ranges.Keys);
            Assert.All(plain.Ranges, range => Assert.Equal(range.Value, swift.Ranges[range.Key]));
            Assert.Equal(plain.Silences, swift.Silences);
            Assert.Equal((plain.MeterFirst, plain.MeterLast, plain.MeterHours), (swift.MeterFirst, swift.MeterLast, swift.MeterHours));
        },
        iter: Rounds.Of(70), threads: 1);

    private static OperatingSummary Conditions((int Seed, int Stretches, int Missing) past, bool together)
    {
        var (from, to) = past.Seed % 3 == 0 ? (Begin(past) + TimeSpan.FromMinutes(7), Begin(past) + TimeSpan.FromHours(3)) : (Instant.MinValue, Instant.MaxValue);
        return Tell(past, new OperatingConditions(Options, TubeShop.Book, Channels, from, to), together).Finish(Begin(past) + TimeSpan.FromDays(9));
    }

    // A little before midnight, so that most pasts have two days at least.
    private static Instant Begin((int Seed, int Stretches, int Missing) past) => TubeShop.FirstDay + TimeSpan.FromHours(23.8) + TimeSpan.FromMilliseconds(past.Seed % 1000);

    private static T Tell<T>((int Seed, int Stretches, int Missing) past, T listener, bool together)
        where T : IHistoryListener
    {
        var random = new Random(past.Seed);
        var cuts = new Random(past.Seed);
        var at = Begin(past);
        listener.Begin(new HistorySpan(TubeShop.Machine, at, Instant.MaxValue, past.Seed % 5 > 0));
        JobRecord[] jobs = [TubeShop.Birch, TubeShop.Birch, TubeShop.Acrylic, TubeShop.Felt];
        var hasLasing = random.Next(4) > 0;
        for (var stretch = 0; stretch < past.Stretches; stretch++)
        {
            var job = jobs[random.Next(jobs.Length)];
            if (past.Seed % 5 > 0)
                listener.Take(new JobEvent(TubeShop.Machine, at, random.Next(3) == 0 ? JobEventKind.End : JobEventKind.Start, job.Job));
            if (random.Next(8) == 0)
                listener.Take(new ServiceEvent(TubeShop.Machine, at, "tube", "replaced", null, null, ServiceEvent.NoDetails));
            if (random.Next(8) == 0)
                listener.Take(AnnotationOf(at, random.Next(600)));
            var samples = Stretch(random, job, hasLasing, past.Missing, ref at);
            for (var told = 0; told < samples.Count;)
            {
                var some = samples.Skip(told).Take(cuts.Next(1, 400)).ToList();
                // An instant is told in one way; singly it may be cut.
                while (together && told + some.Count < samples.Count && samples[told + some.Count].At == some[^1].At)
                    some.Add(samples[told + some.Count]);
                told += some.Count;
                if (together && cuts.Next(5) > 0)
                    listener.Take(MomentTable.Of(some, cuts.Next(2) == 0 ? Channel.CoolantFlow : null));
                else
                    listener.Take(CollectionsMarshal.AsSpan(some));
            }
        }

        listener.End();
        return listener;
    }

    private static ServiceEvent AnnotationOf(Instant at, int seconds) =>
        new Annotation(TubeShop.Machine, $"a{at.UnixNanoseconds}", AnnotationKind.Ignore, at, at + TimeSpan.FromSeconds(seconds), null, null, null, null).ToEvent();

    private static List<Sample> Stretch(Random random, JobRecord job, bool hasLasing, int missing, ref Instant at)
    {
        List<Sample> samples = [];
        var (step, rests, hours) = (random.Next(6) == 0 ? random.Next(1, 40) : random.Next(1, 3), random.Next(3) == 0, random.NextDouble() * 1000);
        for (var (i, count) = (0, random.Next(1, 300)); i < count; i++, at += TimeSpan.FromSeconds(step))
        {
            var on = !rests && i % 34 is > 3 and < 30;
            foreach (var channel in Channels)
            {
                if (random.Next(100) < missing || (channel == Channel.Lasing && !hasLasing) || (channel == Channel.Runtime && i % 20 > 0))
                    continue;
                samples.Add(new Sample(channel, at, random.Next(300) == 0 ? -200 : Math.Round(Value(channel), 2)));
            }

            double Value(Channel channel) =>
                channel == Channel.TubeCurrent ? (on ? TubeShop.Nominal(job.Power!.Value.Value) : 0.02) * (1 + (0.01 * random.NextDouble()))
                : channel == Channel.Power ? job.Power!.Value.Value + (random.Next(60) == 0 ? 3 : 0)
                : channel == Channel.Lasing ? (on ? 1 : 0)
                : channel == Channel.AirPressure ? 190 + (20 * random.NextDouble())
                : channel == Channel.Runtime ? hours + (i * step / 3600.0)
                : channel == Channel.AmbientHumidity ? Math.Round(60 * random.NextDouble())
                : 15 + (18 * random.NextDouble());
        }

        at += TimeSpan.FromSeconds(random.Next(5) == 0 ? random.Next(20_000) : 5);
        return samples;
    }
}
