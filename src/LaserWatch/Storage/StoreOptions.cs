using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;
using LaserWatch.Storage.Influx;

namespace LaserWatch.Storage;

/// <summary>Where the embedded store lives and how long it keeps what.</summary>
/// <remarks>
/// Roll-ups of a minute and an hour, job records and the newest state of every alarm and of every serviced part are kept for good.
/// </remarks>
public sealed record StoreOptions
{
    /// <summary>The database file, relative to the configuration file. Its folder is made if it is missing; two files, <c>-wal</c> and <c>-shm</c>, stand beside it.</summary>
    [Required]
    public string Path { get; init; } = "data/laserwatch.db";

    /// <summary>Days to keep single samples. Default 1500: the life of a tube and a year to claim for it.</summary>
    /// <remarks>
    /// Packed they cost 0.3 to 1.2 bytes each: a channel at one sample a second 10 to 40 MB a year, the last hour or two up to 24 bytes each. Less saves disk, and
    /// shortens what a report can prove. Deleted by whole hours; their minutes' summaries stay, some 10 bytes each.
    /// </remarks>
    [Range(1, 36_500)]
    public int KeepSamplesDays { get; init; } = 1500;

    /// <summary>Days to keep alarm transitions. Default 3650. One costs about 1 kB.</summary>
    [Range(1, 36_500)]
    public int KeepAlarmsDays { get; init; } = 3650;

    /// <summary>Days to keep starts and ends of runs. Default 3650. One costs about 100 bytes.</summary>
    [Range(1, 36_500)]
    public int KeepJobRunsDays { get; init; } = 3650;

    /// <summary>Days to keep the service log. Default 3650; less loses the history of the tubes. One costs about 200 bytes.</summary>
    [Range(1, 36_500)]
    public int KeepServiceDays { get; init; } = 3650;

    /// <summary>Days to keep the record of lost time. Default 3650; at least as long as the samples it explains. One costs about 100 bytes.</summary>
    [Range(1, 36_500)]
    public int KeepGapsDays { get; init; } = 3650;

    /// <summary>
    /// True: every batch waits for the disk. Default false: a power cut can lose the last seconds of samples, never of alarms
    /// and events; the death of the program loses nothing either way. True wears a memory card faster.
    /// </summary>
    public bool SyncEveryBatch { get; init; }

    /// <summary>Longest wait for another process that writes to the file, in seconds. Default 5.</summary>
    [Range(0.1, 60)]
    public double BusySeconds { get; init; } = 5;

    /// <summary>What is stored is of training, and of no real machine.</summary>
    /// <remarks>In the configuration file it stands once, as <c>training</c>.</remarks>
    [JsonIgnore]
    public bool Training { get; init; }

    /// <summary>InfluxDB as the store, for larger shops: <c>url</c>, <c>bucket</c> and what else it needs. null: everything stays in the file of <c>path</c>.</summary>
    public InfluxOptions? Influx { get; init; }
}
