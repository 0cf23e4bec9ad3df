namespace LaserWatch.Diagnosis;

/// <summary>What is known of one sign: how well each answer agrees with what was seen, and in words.</summary>
/// <remarks>
/// Virtual evidence (Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, from memory): a reading near its limit agrees with two
/// answers in part, so it moves the ranking little; nothing is ever certain.
/// </remarks>
/// <param name="Answers">Agreement from 0 to 1, a place for each of the sign's answers, then one for none of them.</param>
/// <param name="Says">The observation in words, with its numbers.</param>
public sealed record Observation(string SignId, IReadOnlyList<double> Answers, string Says)
{
    /// <summary>Somebody saw it; else a sensor did.</summary>
    public bool ByPerson { get; init; }

    /// <summary>How sure a person is taken to be of what was seen.</summary>
    public const double Certainty = 0.9;

    /// <summary>The answer was seen; of two answers to one sign, either.</summary>
    public static Observation Seen(Sign sign, IReadOnlyCollection<string> answers) => new(
        sign.Id,
        [.. sign.Answers.Select(a => answers.Contains(a.Id) ? Certainty : (1 - Certainty) / sign.Answers.Count), (1 - Certainty) / sign.Answers.Count],
        "seen: " + string.Join(", or ", sign.Answers.Where(a => answers.Contains(a.Id)).Select(a => a.Means)))
    { ByPerson = true };

    /// <summary>Somebody looked, and it is not so.</summary>
    public static Observation NotSeen(Sign sign, IReadOnlyCollection<string> answers) => new(
        sign.Id,
        [.. sign.Answers.Select(a => answers.Contains(a.Id) ? 1 - Certainty : 1), 1],
        "not so: " + string.Join("; ", sign.Answers.Where(a => answers.Contains(a.Id)).Select(a => a.Means)))
    { ByPerson = true };

    /// <summary>How likely what was seen is with the cause; above 0. Only its ratio between causes means anything.</summary>
    public double Likelihood(Sign sign, string cause)
    {
        var sum = 0.0;
        for (var i = 0; i < Answers.Count; i++)
            sum += Answers[i] * sign.Probability(i, cause);
        return Math.Max(sum, Sign.LeastProbability * Sign.LeastProbability);
    }
}

/// <summary>How another part of the program ranks causes of what it has found: it shares out the weight of those it names among them.</summary>
/// <remarks>
/// The sum of the named causes stays: that something of theirs is wrong was already told by the reading itself. Within, both rankings count half
/// (a logarithmic opinion pool, Genest and Zidek, Statistical Science 1, 1986, from memory), since both start from weights of common practice and have
/// read the same sensors: multiplied, they would count all that twice.
/// </remarks>
/// <param name="From">Who says so, in words.</param>
/// <param name="Weights">By the causes' names; above 0, in any scale. Causes of another model are passed over.</param>
public sealed record Opinion(string From, IReadOnlyDictionary<string, double> Weights)
{
    /// <summary>Least share of a cause it names: it may be wrong.</summary>
    public const double LeastShare = 0.02;
}

/// <summary>When a part was last served.</summary>
/// <param name="BeamHours">Beam hours since; null where no beam was counted.</param>
/// <param name="Days">Days since.</param>
public sealed record ServedPart(string Part, string Action, double? BeamHours, double Days);

/// <summary>What was looked at already: names of causes, and of checks (all the causes that a check finds).</summary>
public sealed record CheckedSoFar(IReadOnlyCollection<string> Found, IReadOnlyCollection<string> RuledOut)
{
    public static readonly CheckedSoFar Nothing = new([], []);

    /// <summary>Chance that a check seems to find a cause that is not the true one: dirt that does no harm.</summary>
    public const double FalseFind = 0.03;
}
