using MathNet.Numerics.Distributions;

namespace LaserWatch.Diagnosis;

/// <summary>What can spoil a cut, how to find out, and what each sign says for or against it.</summary>
/// <remarks>
/// The table of faults and symptoms that ISO 13379-1 asks for (scope read), kept as data: the agent reads it from <c>config/causes.json</c>.
/// Weights there are common practice, no published source. One cause at a time is assumed; what the table does not know is <see cref="Other"/>.
/// </remarks>
/// <param name="OtherWeight">Weight, beside the causes' own, that it is something the table does not hold.</param>
/// <param name="BeamHoursADay">Turns days since a service into beam hours where no beam was counted.</param>
public sealed record CauseModel(
    IReadOnlyList<Cause> Causes, IReadOnlyList<CauseCheck> Checks, IReadOnlyList<Sign> Signs, double OtherWeight, double BeamHoursADay)
{
    /// <summary>The name under which what the table does not know is ranked.</summary>
    public const string Other = "something-else";

    public Cause? FindCause(string id) => Causes.FirstOrDefault(c => c.Id == id);

    public CauseCheck? FindCheck(string id) => Checks.FirstOrDefault(c => c.Id == id);

    public Sign? FindSign(string id) => Signs.FirstOrDefault(s => s.Id == id);

    /// <summary>The sign that an answer belongs to; answers have names of their own.</summary>
    public Sign? FindSignOf(string answer) => Signs.FirstOrDefault(s => s.Answers.Any(a => a.Id == answer));
}

/// <summary>One cause of a spoilt cut.</summary>
/// <param name="Weight">How often it is the cause, against the others, before anything is known. Above 0.</param>
/// <param name="Check">The one check that finds it.</param>
/// <param name="Mend">What puts it right, in words.</param>
/// <param name="Log">Part and action that log the mend in the service log; null where there is nothing to log.</param>
/// <param name="AlarmCauses">Names under which an alarm's evidence may rank this cause.</param>
public sealed record Cause(
    string Id, string What, double Weight, string Check, string Mend, (string Part, string Action)? Log, Wear? Wear,
    Disturbance? Disturbance, IReadOnlyList<string> AlarmCauses);

/// <summary>How a cause grows more probable with beam hours since its part was last served.</summary>
/// <remarks>
/// The weight of the table is that of a part served one usual interval ago, or of which nothing is known. At h beam hours it is
/// multiplied by F(h)/F(interval), F the Weibull distribution with its scale at the interval: little just after a service, never
/// more than 1/F(interval) = 1.58 times. That dirt gathers so is common practice, no published source.
/// </remarks>
/// <param name="Parts">Names in the service log that count; the newest is taken.</param>
/// <param name="UsualHours">Usual beam hours between services.</param>
/// <param name="Shape">1: as likely at any time; higher: seldom soon after a service.</param>
public sealed record Wear(IReadOnlyList<string> Parts, double UsualHours, double Shape)
{
    /// <summary>A part just served is not certainly good: it may have been done badly.</summary>
    public const double LeastFactor = 0.1;

    public double Factor(double beamHours) =>
        Math.Max(LeastFactor, Weibull.CDF(Shape, UsualHours, Math.Max(0, beamHours)) / Weibull.CDF(Shape, UsualHours, UsualHours));
}

/// <summary>A cause that other work brings about: mirrors cleaned and not aligned again, a lens put in the wrong way.</summary>
/// <param name="By">Parts in the service log whose service can bring it about.</param>
/// <param name="Settled">Parts whose later service shows it put right.</param>
/// <param name="Times">How many times likelier it is at once after; it fades with <paramref name="Hours"/> of beam.</param>
public sealed record Disturbance(IReadOnlyList<string> By, IReadOnlyList<string> Settled, double Times, double Hours)
{
    public double Factor(double beamHours) => 1 + ((Times - 1) * Math.Exp(-Math.Max(0, beamHours) / Hours));
}

/// <summary>Something to do that finds its causes, if one of them is the true one.</summary>
/// <param name="Minutes">Effort of somebody who knows the machine, with waiting and fetching.</param>
/// <param name="Sensitivity">Chance that it finds a cause that is there; between 0 and 1, neither of them.</param>
/// <param name="Safety">What to mind; told with the check, and with the mend of what it finds.</param>
public sealed record CauseCheck(string Id, string How, double Minutes, double Sensitivity, string Safety);

/// <summary>A question with a few answers, of which each cause makes some likelier. None of the answers: all is as usual.</summary>
/// <param name="Minutes">Effort to find the answer by eye or by a test; null where only the sensors answer it.</param>
/// <param name="How">How to find it; null with <paramref name="Minutes"/>.</param>
public sealed record Sign(string Id, string About, double? Minutes, string? How, string? Safety, IReadOnlyList<SignAnswer> Answers)
{
    /// <summary>Chance of an answer by its place; the place after the last is "none of them".</summary>
    /// <param name="cause">A cause's name, or <see cref="CauseModel.Other"/>.</param>
    public double Probability(int answer, string cause)
    {
        if (answer < Answers.Count)
            return Answers[answer].Probability(cause);
        var rest = 1.0;
        foreach (var one in Answers)
            rest -= one.Probability(cause);
        return Math.Max(LeastProbability, rest);
    }

    /// <summary>No answer is ever impossible: what speaks against a cause can be outweighed.</summary>
    public const double LeastProbability = 0.02;
}

/// <param name="Otherwise">Chance of the answer with a cause that is not named.</param>
/// <param name="Causes">Chance of the answer with each cause named.</param>
public sealed record SignAnswer(string Id, string Means, double Otherwise, IReadOnlyDictionary<string, double> Causes)
{
    public double Probability(string cause) => Causes.TryGetValue(cause, out var named) ? named : Otherwise;
}
