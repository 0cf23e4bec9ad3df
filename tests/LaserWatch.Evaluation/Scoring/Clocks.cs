using LaserWatch.Evaluation.Scenarios;
using LaserWatch.Evaluation.Simulation;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>What the machine's clocks show at one moment, s.</summary>
internal readonly record struct Clocks(double Beam, double Cutting, double SwitchedOn, double Air, double LowAir)
{
    public static Clocks Of(Machine machine) => new(machine.BeamSeconds, machine.CuttingSeconds, machine.OnSeconds, machine.AirSeconds, machine.LowAirSeconds);

    public double On(DelayClock clock) => clock switch
    {
        DelayClock.Beam => Beam,
        DelayClock.Cutting => Cutting,
        DelayClock.SwitchedOn => SwitchedOn,
        DelayClock.Air => Air,
        _ => LowAir,
    };
}
