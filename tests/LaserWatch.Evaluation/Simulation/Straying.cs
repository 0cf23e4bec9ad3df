namespace LaserWatch.Evaluation.Simulation;

/// <summary>A quantity that strays about zero and is drawn back: first-order coloured noise (Ornstein–Uhlenbeck), exact for any step.</summary>
/// <param name="deviation">Standard deviation in the long run, in the quantity's unit.</param>
/// <param name="timeConstant">Seconds after which a correlation of 1/e is left.</param>
internal sealed class Straying(double deviation, double timeConstant, Noise noise)
{
    private double _step = double.NaN;
    private double _keep;
    private double _kick;

    public double Value { get; private set; } = deviation * noise.Normal();

    public double Step(double seconds)
    {
        if (seconds != _step)
        {
            _step = seconds;
            _keep = Math.Exp(-seconds / timeConstant);
            _kick = deviation * Math.Sqrt(1 - (_keep * _keep));
        }

        Value = (_keep * Value) + (_kick * noise.Normal());
        return Value;
    }
}
