namespace LaserWatch.Diagnosis;

/// <summary>The causes of a spoilt cut, ranked by all that is known.</summary>
/// <remarks>
/// Naive Bayes over causes that exclude each other: weight × wear × the likelihood of every observation, made to sum to 1. That signs are
/// independent given the cause is not quite true; likelihoods are therefore held away from 0 and 1 and what is doubtful counts in part.
/// </remarks>
public sealed class CutDiagnosis
{
    private const double TellingFactor = 1.25;

    private readonly Func<CheckPlan> _makePlan;
    private CheckPlan? _plan;

    private CutDiagnosis(IReadOnlyList<RankedCause> causes, Func<CheckPlan> makePlan)
    {
        Causes = causes;
        _makePlan = makePlan;
    }

    /// <summary>Most probable first, <see cref="CauseModel.Other"/> among them. Their weights sum to 1.</summary>
    public IReadOnlyList<RankedCause> Causes { get; }

    /// <summary>The order of checks that finds the cause soonest.</summary>
    public CheckPlan Plan => _plan ??= _makePlan();

    /// <summary>How open the question is: 0 bits where one cause is certain, log2 of their number where all are alike.</summary>
    public double EntropyBits => -Causes.Sum(c => c.Weight > 0 ? c.Weight * Math.Log2(c.Weight) : 0);

    /// <param name="observations">At most one a sign; those of signs the model does not hold are passed over.</param>
    /// <exception cref="ArgumentException">What was found or ruled out is neither a cause nor a check of the model.</exception>
    public static CutDiagnosis Of(
        CauseModel model, IReadOnlyList<Observation> observations, IReadOnlyList<ServedPart> served, IReadOnlyList<Opinion> opinions,
        CheckedSoFar looked)
    {
        string[] names = [.. model.Causes.Select(c => c.Id), CauseModel.Other];
        double[] before = [.. model.Causes.Select(c => c.Weight), model.OtherWeight];
        Normalise(before);
        var weights = (double[])before.Clone();
        var reasons = names.Select(_ => new List<Reason>()).ToArray();

        var wear = model.Causes.Select(c => CauseUpkeep.Of(c, served, model.BeamHoursADay)).Append(null).ToArray();
        Multiply(weights, reasons, i => wear[i]?.Factor ?? 1, i => wear[i]?.Says, relative: false);
        foreach (var observation in observations.Where(o => !o.ByPerson))
            Observe(observation);
        foreach (var opinion in opinions)
            Share(weights, reasons, names, opinion);
        foreach (var observation in observations.Where(o => o.ByPerson))
            Observe(observation);
        Judge(model, weights, reasons, names, looked);

        var ranked = names.Select((name, i) => new RankedCause(
                name, model.FindCause(name), weights[i], before[i],
                [.. reasons[i].Where(r => r.Factor is >= TellingFactor or <= 1 / TellingFactor).OrderByDescending(r => Math.Abs(Math.Log(r.Factor)))]))
            .OrderByDescending(c => c.Weight).ToList();
        var open = model.Signs.Where(s => s.Minutes is not null && observations.All(o => o.SignId != s.Id)).ToList();
        return new CutDiagnosis(ranked, () => CheckPlan.For(model, weights[..model.Causes.Count], open, looked));

        void Observe(Observation observation)
        {
            if (model.FindSign(observation.SignId) is { } sign)
                Multiply(weights, reasons, i => observation.Likelihood(sign, names[i]), _ => observation.Says, relative: true);
        }
    }

    private static void Judge(CauseModel model, double[] weights, List<Reason>[] reasons, string[] names, CheckedSoFar looked)
    {
        foreach (var (id, found) in looked.Found.Select(id => (id, true)).Concat(looked.RuledOut.Select(id => (id, false))))
        {
            if (model.FindCause(id) is null && model.FindCheck(id) is null)
                throw new ArgumentException($"'{id}' is neither a cause nor a check.", nameof(looked));
            Multiply(
                weights, reasons,
                i =>
                {
                    var cause = i < model.Causes.Count ? model.Causes[i] : null;
                    var concerns = cause is not null && (cause.Id == id || cause.Check == id);
                    var sensitivity = concerns ? model.FindCheck(cause!.Check)!.Sensitivity : CheckedSoFar.FalseFind;
                    return found ? sensitivity : concerns ? 1 - sensitivity : 1;
                },
                i => i < model.Causes.Count && (model.Causes[i].Id == id || model.Causes[i].Check == id) ? (found ? "found by looking" : "looked at, and ruled out") : null,
                relative: found);
        }
    }

    /// <summary>Multiplies and makes the sum 1 again.</summary>
    /// <param name="relative">The factor counts against the average over all causes, as a likelihood does.</param>
    private static void Multiply(double[] weights, List<Reason>[] reasons, Func<int, double> factor, Func<int, string?> says, bool relative)
    {
        var factors = weights.Select((_, i) => factor(i)).ToArray();
        var average = relative ? factors.Zip(weights, (f, w) => f * w).Sum() : 1;
        for (var i = 0; i < weights.Length; i++)
        {
            weights[i] *= factors[i];
            if (says(i) is { } words)
                reasons[i].Add(new Reason(words, factors[i] / average));
        }

        Normalise(weights);
    }

    private static void Share(double[] weights, List<Reason>[] reasons, string[] names, Opinion opinion)
    {
        var named = Enumerable.Range(0, names.Length).Where(i => opinion.Weights.ContainsKey(names[i])).ToArray();
        var group = named.Sum(i => weights[i]);
        if (named.Length < 2 || !(group > 0))
            return;
        var total = named.Sum(i => opinion.Weights[names[i]]);
        var wanted = named.Select(i => Math.Sqrt(weights[i] * Math.Max(Opinion.LeastShare, opinion.Weights[names[i]] / total))).ToArray();
        var scale = group / wanted.Sum();
        for (var k = 0; k < named.Length; k++)
        {
            var after = wanted[k] * scale;
            reasons[named[k]].Add(new Reason(opinion.From, after / weights[named[k]]));
            weights[named[k]] = after;
        }
    }

    private static void Normalise(double[] weights)
    {
        var sum = weights.Sum();
        for (var i = 0; i < weights.Length; i++)
            weights[i] /= sum;
    }
}

/// <summary>A cause with its place among the others.</summary>
/// <param name="Cause">Null for what the table does not know.</param>
/// <param name="Weight">Between 0 and 1; of all causes together 1.</param>
/// <param name="Before">The weight before anything was known of the machine.</param>
/// <param name="Reasons">What moved it, strongest first.</param>
public sealed record RankedCause(string Id, Cause? Cause, double Weight, double Before, IReadOnlyList<Reason> Reasons);

/// <param name="Factor">How many times likelier it made the cause, against the average of all; below 1 speaks against it.</param>
public sealed record Reason(string Says, double Factor);
