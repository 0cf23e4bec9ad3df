using LaserWatch.Configuration;
using LaserWatch.History;
using LaserWatch.Rehearsal;

namespace LaserWatch.Cli;

/// <summary>What a comparison found, with the names of its two sides.</summary>
internal sealed record ComparisonFound(string NameA, string NameB, Comparison Comparison, IReadOnlyList<OptionDifference> Differences)
{
    /// <summary>What people said of the time that was played.</summary>
    public IReadOnlyList<Annotation> Annotations { get; init; } = [];

    /// <summary>Alarms of A against the annotations.</summary>
    public AnnotationScore? ScoreA { get; init; }

    public AnnotationScore? ScoreB { get; init; }

    /// <summary>No setting that the rules see is different.</summary>
    public bool SameRules => !Differences.Any(d => d.TouchesRules);

    /// <summary>In plain words.</summary>
    public string Summary => SameRules && Comparison.IsSame
        ? "A and B differ in nothing that the rules see" + (Differences.Count == 0 ? ". " : FormattableString.Invariant($" ({Differences.Count} other setting(s) differ). ")) + ComparisonWords.Summary(Comparison)
        : ComparisonWords.Summary(Comparison);
}

/// <param name="All">Alarms too that are the same under both.</param>
internal sealed record ComparisonShown(bool All, bool Differences, bool Json);
