using LaserWatch.Jobs;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The words that stand in the tables for the enumerations of a job; they are those of a recording.</summary>
internal static class EventNames
{
    public static string Name(JobEventKind kind) => kind switch
    {
        JobEventKind.Start => "start",
        JobEventKind.End => "end",
        _ => throw new ArgumentOutOfRangeException(nameof(kind), kind, "A run starts or ends."),
    };

    public static JobEventKind ReadKind(string name) => name == "start" ? JobEventKind.Start : JobEventKind.End;

    public static string Name(CutMode mode) => mode switch
    {
        CutMode.Vector => "vector",
        CutMode.Raster => "raster",
        _ => throw new ArgumentOutOfRangeException(nameof(mode), mode, "A cut is vector or raster."),
    };

    public static CutMode ReadMode(string name) => name == "raster" ? CutMode.Raster : CutMode.Vector;
}
