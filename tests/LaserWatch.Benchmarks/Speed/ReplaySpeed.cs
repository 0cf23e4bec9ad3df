using System.Diagnostics;
using System.Globalization;
using LaserWatch.Configuration;
using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>A recording through every rule, beside a loop that only reads the same file with the same reader.</summary>
/// <remarks>One thread; the file is plain, and in the page cache. The two take turns, and the best of each counts.</remarks>
internal static class ReplaySpeed
{
    public static Bench Bench { get; } = new("replay", MeasureAsync);

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(Length length, CancellationToken stop)
    {
        var samples = length == Length.Whole ? 4_000_000 : 200_000;
        var rounds = length == Length.Whole ? 15 : 2;
        var folder = Directory.CreateTempSubdirectory("laserwatch-bench-");
        try
        {
            var life = new TubeLifeScenario();
            var changing = Path.Combine(folder.FullName, "tube-life.lp");
            SimulatedShop.Write(changing, TubeLifeScenario.Machine, life.Jobs, life.Moments(), samples);
            var steady = Path.Combine(folder.FullName, "eight-channels.lp");
            SimulatedShop.Write(steady, "bay1", SimulatedShop.Jobs, SimulatedShop.EightChannelsEachSecond("bay1", 1, 250), samples);
            return
            [
                .. await MeasureAsync("replay through every rule, 4 channels each 2 s, 5 more each 10 s", changing, samples, rounds, stop),
                .. await MeasureAsync("replay through every rule, 8 channels each second", steady, samples, rounds, stop),
            ];
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static async Task<IReadOnlyList<Figure>> MeasureAsync(string what, string path, int samples, int rounds, CancellationToken stop)
    {
        var (parsed, judged) = (TimeSpan.MaxValue, TimeSpan.MaxValue);
        long met = 0;
        for (var round = 0; round < rounds; round++)
        {
            var began = Stopwatch.GetTimestamp();
            met = Parse(path);
            parsed = Least(parsed, Stopwatch.GetElapsedTime(began));
            began = Stopwatch.GetTimestamp();
            var played = await ReplayAsync(path, stop);
            judged = Least(judged, Stopwatch.GetElapsedTime(began));
            if (met < samples || played != met)
                throw new InvalidOperationException($"Of {samples} samples {met} were read, and {played} judged.");
        }

        var (bare, ours) = (met / parsed.TotalSeconds / 1e6, met / judged.TotalSeconds / 1e6);
        return
        [
            new Figure(
                what, Rate(ours), Rate(bare) + ", the reader alone", ours / bare, Goal.AtLeast(0.5), (0.05, 1.2)),
        ];
    }

    private static long Parse(string path)
    {
        using var reader = RecordingReader.Open(path, new ChannelTable());
        var samples = 0L;
        while (reader.Read() is { } e)
            samples += e.Values.Length;
        return samples;
    }

    private static async Task<long> ReplayAsync(string path, CancellationToken stop)
    {
        using var reader = RecordingReader.Open(path, new ChannelTable());
        var replay = new Replay(reader, new Shop(new LaserWatchOptions().RulesOf, new JobBook()), _ => { });
        await replay.RunAsync(pace: null, onProgress: null, stop);
        return replay.NotWatched == 0 ? reader.Counts.Samples : -1;
    }

    private static TimeSpan Least(TimeSpan a, TimeSpan b) => a < b ? a : b;

    private static string Rate(double millions) => string.Create(CultureInfo.InvariantCulture, $"{millions:0.00} M samples/s");
}
