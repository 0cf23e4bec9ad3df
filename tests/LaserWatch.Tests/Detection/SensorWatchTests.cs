using System.Runtime.InteropServices;
using CsCheck;
using LaserWatch.Jobs;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Quantities;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>The watch of the sensors, which stops asking where nothing can come of it, held against one that asks everything.</summary>
public class SensorWatchTests
{
    private static readonly Instant Morning = Instant.From(new DateTimeOffset(2026, 3, 2, 8, 0, 0, TimeSpan.Zero));
    private static readonly SensorFaultOptions Options = new() { StuckFastSeconds = 60, StuckSlowSeconds = 120 };
    private static readonly JobRecord Cut = new("birch", Morning, null, new PowerPercent(66), null, null, null);
    private static readonly JobRecord Picture = new("slate", Morning, null, new PowerPercent(40), null, null, null, CutMode.Raster);

    [Fact]
    public void It_says_of_random_sensors_what_asking_everything_says()
    {
        var met = new HashSet<ChannelFault>();
        Gen.Int[0, int.MaxValue].Sample(seed => Live(new Random(seed), met), iter: 60, threads: 1);

        Assert.Equal([.. Enum.GetValues<ChannelFault>()], met.Order());
    }

    private static void Live(Random random, HashSet<ChannelFault> met)
    {
        var (swift, plain) = (new SensorHabits(Options), new PlainSensorWatch(Options));
        var (swiftly, plainly) = (new Reading(), new Reading());
        var moods = new Mood[Channel.CanonicalCount];
        var at = Morning;
        List<ChannelValue> row = [];
        for (var step = 0; step < 1500; step++)
        {
            at += TimeSpan.FromSeconds(random.Next(40) == 0 ? 700 : random.Next(4) == 0 ? 0.5 : 8);
            if (random.Next(step == 0 ? 1 : 30) == 0)
                Beam(random.Next(8));
            if (random.Next(200) == 0)
                Begin(random.Next(4), step);
            var together = random.Next(3) > 0;
            row.Clear();
            foreach (var channel in Channel.Canonical)
            {
                if (random.Next(300) == 0)
                    moods[channel.Index] = (Mood)random.Next(6);
                Speak(channel, ref moods[channel.Index], together);
                met.Add(plainly.FaultOf(channel));
            }

            swift.Observe(swiftly, at, CollectionsMarshal.AsSpan(row));
            (swiftly.At, plainly.At) = (at, at);
            swift.Tick(swiftly);
            plain.Tick(plainly);
            if (step % 50 == 0)
                Assert.Equal((StateVisitor.Save(plain.Visit), StateVisitor.Save(plainly.Visit)), (StateVisitor.Save(swift.Visit), StateVisitor.Save(swiftly.Visit)), SameBytes);
        }

        void Beam(int drawn)
        {
            bool? on = drawn == 0 ? null : drawn > 1;
            (swiftly.BeamOn, swiftly.BeamSince) = (on, at);
            (plainly.BeamOn, plainly.BeamSince) = (on, at);
        }

        void Begin(int drawn, int number)
        {
            JobRecord? record = drawn == 1 ? null : drawn == 2 ? Picture : Cut;
            var run = drawn == 0 ? null : new Run(number, record?.Job, record, at, Inferred: record is null);
            (swiftly.Run, plainly.Run) = (run, run);
        }

        void Speak(Channel channel, ref Mood mood, bool together)
        {
            if (mood == Mood.Silent)
                return;
            if (mood == Mood.Failed)
            {
                swift.ObserveFailure(swiftly, channel, at);
                plain.ObserveFailure(plainly, channel, at);
                return;
            }

            var value = mood switch
            {
                Mood.Noisy => 0.2 + (0.6 * random.NextDouble()),
                Mood.Coarse => 0.5 + (0.25 * random.Next(-1, 2)),
                Mood.Wild => random.Next(2) == 0 ? -127 : 0.5,
                _ => 0.5,
            };
            if (together)
                row.Add(new ChannelValue(channel, value));
            else
                Take(swiftly, beamSeconds => swift.Observe(swiftly, channel.Index, at, value, beamSeconds));
            Take(plainly, beamSeconds => plain.Observe(plainly, channel.Index, at, value, beamSeconds));

            void Take(Reading reading, Func<double, bool> observe)
            {
                if (observe(reading.BeamOn == true && reading.Knows(channel) ? Math.Min(at.SecondsSince(reading.TimeOf(channel)), 10) : 0))
                    reading.Set(channel.Index, at, value);
            }
        }
    }

    private static bool SameBytes((byte[] Watch, byte[] Reading) a, (byte[] Watch, byte[] Reading) b) =>
        a.Watch.AsSpan().SequenceEqual(b.Watch) && a.Reading.AsSpan().SequenceEqual(b.Reading);

    private enum Mood
    {
        Noisy,
        Still,
        Coarse,
        Wild,
        Failed,
        Silent,
    }
}
