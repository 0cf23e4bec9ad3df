using LaserWatch.Evaluation.Simulation;
using LaserWatch.Rules;

namespace LaserWatch.Evaluation.Scenarios;

/// <summary>A stretch of one shop's life, and what a watch ought to say of it.</summary>
/// <param name="Family">Which row of the table; such as <c>air: kink</c>.</param>
/// <param name="Size">Such as <c>30 %</c>.</param>
/// <param name="StartDay">Day of the year on which it begins.</param>
internal sealed record Scenario(
    string Family, string Size, ShopPlan Shop, ulong Seed, int Days, int StartDay, IReadOnlyList<Fault> Faults, Truth Truth)
{
    /// <summary>Unique: to run it alone.</summary>
    public string Name => $"{Family}/{Size}/{Shop.Name}/{Seed}".Replace(' ', '-');

    /// <summary>In the quick set too.</summary>
    public bool Quick { get; init; }
}

internal enum Expectation
{
    /// <summary>Nothing may be said above <c>low</c> but what is physically so (coolant past its limit, and so on).</summary>
    Silence,

    /// <summary>One of the accepted conditions must be raised.</summary>
    Finding,

    /// <summary>The channels cannot show it: silence is right, a finding a surprise.</summary>
    Invisible,
}

/// <summary>On which clock a delay counts: a fault is exposed only while the machine does what shows it.</summary>
internal enum DelayClock
{
    Beam,

    /// <summary>Beam on in a cut, not an engraving, at a command that drives a steady current.</summary>
    Cutting,
    SwitchedOn,

    /// <summary>Beam on in a job with air.</summary>
    Air,

    /// <summary>Beam on while the true pressure is more than a tenth below the job's.</summary>
    LowAir,
}

/// <param name="Accepted">Conditions that find the fault, the most telling first.</param>
/// <param name="Consequences">Further conditions that the fault really brings about: neither found by nor false.</param>
/// <param name="Onset">When the fault begins, s since the scenario's beginning.</param>
/// <param name="Material">When it has grown to what must be told; the onset where it comes at once.</param>
/// <param name="Patience">Found later than this after it became material, it is late; s of the clock.</param>
/// <param name="LeastDelay">The least mean delay by theory, s of the clock after <paramref name="Onset"/>: see <c>LeastDelays</c>.</param>
internal sealed record Truth(
    Expectation Expectation, IReadOnlyList<string> Accepted, IReadOnlyList<string> Consequences, double Onset, double Material,
    double Patience, DelayClock Clock, double LeastDelay)
{
    /// <summary>What may stand in the alarm's evidence as <c>cause</c>: all that this machine's channels cannot tell apart; empty where none is judged.</summary>
    public IReadOnlyList<string> Causes { get; init; } = [];

    /// <summary>What should stand in the evidence as <c>change</c>: <c>step</c> or <c>ramp</c>; null where it is not judged.</summary>
    public string? Shape { get; init; }

    public static readonly Truth Healthy = new(
        Expectation.Silence, [], [], double.PositiveInfinity, double.PositiveInfinity, 0, DelayClock.SwitchedOn, 0);
}
