using BenchmarkDotNet.Columns;
using BenchmarkDotNet.Configs;
using BenchmarkDotNet.Diagnosers;
using BenchmarkDotNet.Exporters;
using BenchmarkDotNet.Jobs;
using BenchmarkDotNet.Loggers;
using BenchmarkDotNet.Running;
using BenchmarkDotNet.Toolchains.InProcess.Emit;

namespace LaserWatch.Benchmarks.Micro;

/// <summary>The small things on the way of a sample, each by itself: nanoseconds and bytes allocated.</summary>
internal static class MicroBenches
{
    private static readonly Type[] All = [typeof(ReadingBenches), typeof(WatchBenches)];

    /// <param name="smoke">Each once only, to see that it runs.</param>
    /// <returns>Whether every bench ran.</returns>
    public static bool Run(bool smoke)
    {
        var config = ManualConfig.CreateEmpty()
            .AddJob((smoke ? Job.Dry : Job.ShortRun.WithWarmupCount(8).WithIterationCount(8)).WithToolchain(InProcessEmitToolchain.Instance))
            .AddDiagnoser(MemoryDiagnoser.Default)
            .AddColumnProvider(DefaultColumnProviders.Descriptor, DefaultColumnProviders.Statistics, DefaultColumnProviders.Metrics)
            .AddExporter(MarkdownExporter.GitHub)
            .AddLogger(ConsoleLogger.Default)
            .WithArtifactsPath(Path.Combine(Path.GetTempPath(), "laserwatch-micro"));
        return All.Select(type => BenchmarkRunner.Run(type, config)).All(summary => !summary.HasCriticalValidationErrors && summary.Reports.All(r => r.Success));
    }
}
