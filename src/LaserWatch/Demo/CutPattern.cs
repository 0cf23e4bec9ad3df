using LaserWatch.Jobs;

namespace LaserWatch.Demo;

/// <summary>What the head does during a run: cuts, gaps between cuts, and corners where the power dips; or raster lines.</summary>
public sealed class CutPattern(SeededNoise noise, CutMode mode, double power)
{
    private double _left;
    private double _untilCorner;
    private double _cornerLeft;
    private double _cornerPower = 1;
    private bool _cutting;
    private double _rasterDuty = 0.35;

    /// <summary>Commanded power at the end of the step, %.</summary>
    public double Power { get; private set; }

    /// <summary>Whether the beam is commanded on at the end of the step.</summary>
    public bool BeamOn { get; private set; }

    /// <summary>The part of the step that the beam was on, 0 to 1: what heats the coolant.</summary>
    public double Duty { get; private set; }

    /// <summary>The part of full current that flows at the end of the step, 0 to 1; within raster lines sensors feel the mean.</summary>
    public double Flow { get; private set; }

    public void Step(double seconds)
    {
        if (mode == CutMode.Raster)
            StepRaster(seconds);
        else
            StepVector(seconds);
    }

    private void StepRaster(double seconds)
    {
        // The picture's grey changes over lines; within a step the beam flickers far faster than any sensor sees.
        _left -= seconds;
        if (_left <= 0)
        {
            _left = noise.Uniform(0.4, 3);
            _rasterDuty = noise.Uniform(0.1, 0.75);
        }

        Power = power;
        BeamOn = noise.Chance(_rasterDuty);
        Duty = Flow = Math.Clamp(_rasterDuty + (0.08 * noise.Normal()), 0.02, 1);
    }

    private void StepVector(double seconds)
    {
        var onTime = 0.0;
        var rest = seconds;
        while (rest > 1e-9)
        {
            if (_left <= 1e-9)
            {
                _cutting = !_cutting;
                _left = _cutting ? noise.Uniform(2, 22) : noise.Uniform(0.3, 2.2);
                _untilCorner = noise.Uniform(0.5, 4);
                _cornerLeft = 0;
            }

            var part = Math.Min(rest, _left);
            if (_cutting)
            {
                part = Math.Min(part, Math.Max(1e-6, _cornerLeft > 0 ? _cornerLeft : _untilCorner));
                onTime += part;
                Corner(part);
            }

            _left -= part;
            rest -= part;
        }

        BeamOn = _cutting;
        Duty = onTime / seconds;
        Flow = _cutting ? 1 : 0;
        Power = power * (_cutting && _cornerLeft > 0 ? _cornerPower : 1);
    }

    private void Corner(double part)
    {
        if (_cornerLeft > 0)
        {
            _cornerLeft -= part;
            if (_cornerLeft <= 1e-9)
            {
                _cornerLeft = 0;
                _untilCorner = noise.Uniform(0.5, 4);
            }

            return;
        }

        _untilCorner -= part;
        if (_untilCorner <= 1e-9)
        {
            _cornerLeft = noise.Uniform(0.06, 0.22);
            _cornerPower = noise.Uniform(0.55, 0.92);
        }
    }
}
