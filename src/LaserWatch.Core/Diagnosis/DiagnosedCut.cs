namespace LaserWatch.Diagnosis;

/// <summary>A diagnosis with all that it was made from.</summary>
/// <param name="Seen">Answers that somebody saw; of one sign, either.</param>
/// <param name="NotSeen">Answers that somebody looked for and did not see.</param>
public sealed record DiagnosedCut(
    CauseModel Model, MachineSnapshot Machine, Symptoms Symptoms, CutDiagnosis Diagnosis, IReadOnlyList<string> Seen, IReadOnlyList<string> NotSeen,
    CheckedSoFar Looked)
{
    /// <summary>Something is known of this machine or this cut; else the ranking is the table's alone.</summary>
    public bool IsAnythingKnown =>
        Symptoms.Observations.Count > 0 || Machine.Served.Count > 0 || Seen.Count + NotSeen.Count + Looked.Found.Count + Looked.RuledOut.Count > 0;

    /// <exception cref="ArgumentException">A word is no answer, or no cause or check, of the model.</exception>
    public static DiagnosedCut Of(
        CauseModel model, MachineSnapshot machine, IReadOnlyList<string> seen, IReadOnlyList<string> notSeen, CheckedSoFar looked)
    {
        foreach (var word in seen.Concat(notSeen))
        {
            if (model.FindSignOf(word) is null)
                throw new ArgumentException($"'{word}' is no answer to any sign.", nameof(seen));
        }

        var symptoms = Symptoms.Of(machine, model);
        // What a person saw goes before what a sensor says of the same sign.
        var told = model.Signs.Select(sign => Told(sign, seen, notSeen)).OfType<Observation>().ToList();
        var observations = symptoms.Observations.Where(o => told.All(t => t.SignId != o.SignId)).Concat(told).ToList();
        var opinions = machine.Opinions.Select(o => Named(model, o.From, o.Weights.Select(w => (w.Key, w.Value))))
            .Concat(machine.Alarms.Select(a => Named(model, $"{a.Raised.Condition} ranks it so", AlarmCauses.Of(a.Raised.Evidence))))
            .OfType<Opinion>().ToList();
        return new DiagnosedCut(model, machine, symptoms, CutDiagnosis.Of(model, observations, machine.Served, opinions, looked), seen, notSeen, looked);
    }

    private static Observation? Told(Sign sign, IReadOnlyList<string> seen, IReadOnlyList<string> notSeen)
    {
        List<string> its = [.. sign.Answers.Select(a => a.Id)];
        return its.Intersect(seen).Any() ? Observation.Seen(sign, [.. its.Intersect(seen)])
            : its.Intersect(notSeen).Any() ? Observation.NotSeen(sign, [.. its.Intersect(notSeen)])
            : null;
    }

    /// <summary>A rule's ranking by the names of the model; null where it names fewer than two of its causes.</summary>
    private static Opinion? Named(CauseModel model, string from, IEnumerable<(string Name, double Weight)> ranked)
    {
        var weights = new Dictionary<string, double>(StringComparer.Ordinal);
        foreach (var (name, weight) in ranked)
        {
            foreach (var cause in model.Causes.Where(c => c.Id == name || c.AlarmCauses.Contains(name)))
                weights[cause.Id] = weights.GetValueOrDefault(cause.Id) + weight;
        }

        return weights.Count < 2 ? null : new Opinion(from, weights);
    }
}
