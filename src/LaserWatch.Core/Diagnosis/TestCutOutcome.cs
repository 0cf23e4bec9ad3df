using LaserWatch.Telemetry;

namespace LaserWatch.Diagnosis;

/// <summary>Whether a logged test cut went through as it should.</summary>
public static class TestCutOutcome
{
    private static readonly HashSet<string> Good = new(StringComparer.OrdinalIgnoreCase) { "good", "through", "ok", "pass", "passed", "clean", "yes", "as-proven" };
    private static readonly HashSet<string> Bad = new(StringComparer.OrdinalIgnoreCase) { "bad", "not-through", "fail", "failed", "poor", "no", "partly", "weak", "shallow", "incomplete" };

    /// <summary>Reads the <c>outcome</c> field, or the action where there is none.</summary>
    /// <returns>Null where the words are not known: then the cut says nothing.</returns>
    public static bool? Of(ServiceEvent cut)
    {
        var words = (cut.Details.TryGetValue("outcome", out var outcome) ? outcome : cut.Action).Trim().Replace(' ', '-').Replace('_', '-');
        return Good.Contains(words) ? true : Bad.Contains(words) ? false : null;
    }
}
