namespace LaserWatch.Benchmarks.Speed;

/// <summary>How long a bench may take: the whole measurement, or only so much of it as shows that it runs and that its ratios are no nonsense.</summary>
public enum Length
{
    Whole,
    Smoke,
}

/// <summary>One bench: some figures measured together in one run.</summary>
/// <param name="Name">The word on the command line.</param>
/// <param name="Measure">Throws <see cref="MissingPartException"/> where a part is not on this machine.</param>
public sealed record Bench(string Name, Func<Length, CancellationToken, Task<IReadOnlyList<Figure>>> Measure)
{
    /// <summary>In the order of the table.</summary>
    public static IReadOnlyList<Bench> All { get; } =
    [
        ReplaySpeed.Bench,
        Growth.Bench,
        LivePace.Bench,
        StartSpeed.Bench,
        IdleMemory.Bench,
        ShopMemory.Bench,
        ProcessorTime.Bench,
        new("store", StoreBench.MeasureAsync),
        IngestBench.Bench,
        BrokerBench.Bench,
        LatencyBench.Bench,
        AllocationBench.Bench,
        new("year", YearBench.MeasureAsync),
    ];
}

/// <summary>What a bench needs is not here: the server, or the published program.</summary>
public sealed class MissingPartException(string message) : Exception(message);
