using LaserWatch.Alarms;
using LaserWatch.Models;

namespace LaserWatch.Rules;

/// <summary>How the ranking of causes is written into an alarm's evidence.</summary>
internal static class AirEvidence
{
    /// <summary>Adds <c>cause</c>, <c>cause_weight</c>, <c>cause_weights</c>, what they were judged by, and <c>told_apart_by</c> where they are close.</summary>
    public static void Add(List<Evidence> evidence, IReadOnlyList<AirCause> causes, in AirSignature seen)
    {
        evidence.Add(new Evidence("cause", causes[0].Name));
        evidence.Add(new Evidence("cause_weight", causes[0].Weight));
        evidence.Add(new Evidence("cause_weights", AirCauses.Weights(causes)));
        evidence.Add(new Evidence("onset", Words(seen.Onset)));
        if (seen.ConductanceRatio is { } ratio)
            evidence.Add(new Evidence("conductance_ratio", Math.Round(ratio, 3)));
        if (AirCauses.ToldApartBy(causes, seen) is { } observation)
            evidence.Add(new Evidence("told_apart_by", observation));
    }

    private static string Words(AirOnset onset) => onset switch
    {
        AirOnset.BetweenRuns => "before the run",
        AirOnset.Sudden => "at once",
        AirOnset.Gradual => "over seconds or minutes",
        AirOnset.Creeping => "over many runs",
        _ => "not seen",
    };
}
