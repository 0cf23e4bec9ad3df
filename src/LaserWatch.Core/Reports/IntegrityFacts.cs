namespace LaserWatch.Reports;

/// <summary>How far the data behind a report were sealed against later change, as the machine's log has it.</summary>
/// <param name="LogEntries">Entries of the log; 0: nothing was ever sealed.</param>
/// <param name="Root">The root hash over all entries, hex.</param>
/// <param name="SignedAt">When the log's head was signed, RFC 3339 UTC; null where it never was.</param>
/// <param name="Fingerprint">SHA-256 of the public key that signed, hex; null as before.</param>
/// <param name="StampedAt">What a time-stamping authority said of that head, RFC 3339 UTC; null where none was asked or none answered.</param>
public sealed record IntegrityFacts(int LogEntries, string? Root, string? SignedAt, string? Fingerprint, string? StampedAt)
{
    /// <summary>Days of the time reported on that are sealed.</summary>
    public int SealedDays { get; init; }

    public DateOnly? FirstSealed { get; init; }

    public DateOnly? LastSealed { get; init; }

    /// <summary>Days with an estimate of the current that no entry of the log seals.</summary>
    public int UnsealedDays { get; init; }

    /// <summary>Days that were sealed again, since more had come for them.</summary>
    public IReadOnlyList<RevisedDay> Revised { get; init; } = [];

    /// <summary>Days of which a whole minute of raw samples stands in the page.</summary>
    public IReadOnlyList<DateOnly> AnnexDays { get; init; } = [];

    /// <summary>Sealed days that the store no longer holds as they were sealed.</summary>
    public IReadOnlyList<DateOnly> Differing { get; init; } = [];

    /// <summary>Why the page itself carries no signature; null where it does.</summary>
    public string? NotSigned { get; init; }
}

/// <param name="Why">In plain words, as the log has it.</param>
public sealed record RevisedDay(DateOnly Day, int Revision, string Why);
