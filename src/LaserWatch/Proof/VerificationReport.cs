using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>What a check of a file's proof came to.</summary>
public sealed class VerificationReport
{
    /// <summary>Findings that are kept; the others are only counted.</summary>
    public const int MostKept = 50;

    private readonly List<Finding> _findings = [];

    /// <summary><c>recording</c>, <c>excerpt</c> or <c>report</c>.</summary>
    public string Content { get; set; } = "";

    public string Machine { get; set; } = "";

    /// <summary>When a report's page was signed, RFC 3339; null in recordings.</summary>
    public string? Made { get; set; }

    /// <summary>False where the file carries no proof at all.</summary>
    public bool HasProof { get; set; }

    public bool IsWhole => HasProof && FindingCount == 0;

    /// <summary>What is not as it was sealed, the first place first.</summary>
    public IReadOnlyList<Finding> Findings => _findings;

    public long FindingCount { get; private set; }

    /// <summary>What stands in the file and no proof speaks of, in words.</summary>
    public List<string> NotCovered { get; } = [];

    /// <summary>What else a reader should know, in words.</summary>
    public List<string> Notes { get; } = [];

    public long Samples { get; set; }

    public long Events { get; set; }

    public int Days { get; set; }

    /// <summary>Of the first and the last day that samples are covered of.</summary>
    public DateOnly? FirstDay { get; set; }

    /// <inheritdoc cref="FirstDay"/>
    public DateOnly? LastDay { get; set; }

    /// <summary>The first and last sample that is covered.</summary>
    public Instant? FirstSample { get; set; }

    /// <inheritdoc cref="FirstSample"/>
    public Instant? LastSample { get; set; }

    /// <summary>The log's signed state; null where there is none.</summary>
    public LogHead? Head { get; set; }

    /// <summary>What the newest token says; null where there is none.</summary>
    public TimestampFinding? Timestamp { get; set; }

    public string? Fingerprint => Head?.Fingerprint();

    public void Add(Finding finding) => AddAll([finding]);

    public void AddAll(IEnumerable<Finding> findings)
    {
        foreach (var finding in findings)
        {
            FindingCount++;
            if (_findings.Count < MostKept)
                _findings.Add(finding);
        }
    }

    /// <summary>Puts the findings in order of time, those without one first.</summary>
    public void Sort()
    {
        var sorted = _findings.OrderBy(finding => finding.Day ?? DateOnly.MinValue).ThenBy(finding => finding.Minute, StringComparer.Ordinal).ToList();
        _findings.Clear();
        _findings.AddRange(sorted);
    }

    /// <summary>Makes line numbers those of the file within which the checked lines stand.</summary>
    internal void MoveLines(int before, string section)
    {
        for (var i = 0; i < _findings.Count; i++)
            _findings[i] = _findings[i] with { FirstLine = _findings[i].FirstLine + before, LastLine = _findings[i].LastLine + before, Section = section };
    }

    /// <summary>Puts a finding in the place of one that tells less.</summary>
    internal void Replace(int place, Finding finding) => _findings[place] = finding;
}
