namespace LaserWatch.Demo;

/// <summary>A value that wanders about zero with deviation 1 and forgets itself over a time: mains voltage, a draught.</summary>
/// <remarks>An Ornstein–Uhlenbeck process, stepped exactly, so that any step gives the same statistics.</remarks>
public sealed class Wander(SeededNoise noise, TimeSpan memory)
{
    public double Value { get; private set; } = noise.Normal();

    public void Step(double seconds)
    {
        var kept = Math.Exp(-seconds / memory.TotalSeconds);
        Value = (kept * Value) + (Math.Sqrt(1 - (kept * kept)) * noise.Normal());
    }
}
