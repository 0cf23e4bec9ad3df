namespace LaserWatch.Rules;

/// <summary>What a rule makes of a reading. <c>default</c> is "cannot tell", never "normal".</summary>
public enum Judgement
{
    Undecided,
    Normal,
    Breach,

    /// <summary>What the rule guards is not there now, as a pressure between two jobs: no judgement, by design.</summary>
    Irrelevant,
}

/// <summary>A judgement, and the numbers that made it.</summary>
/// <param name="Grade">How bad, from 0; a standing alarm is announced anew when it grows.</param>
public readonly record struct Verdict(Judgement Judgement, double? Value = null, double? Limit = null, int Grade = 0);
