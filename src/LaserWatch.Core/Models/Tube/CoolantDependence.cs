using LaserWatch.Monitoring;

namespace LaserWatch.Models;

/// <summary>How the current at fixed power follows the coolant, where this machine's own days show that it does.</summary>
/// <remarks>
/// Least squares of the health ratio on coolant temperature within each day, so that ageing from day to day cannot be taken for it. Blocks of one
/// day share their wander, so four count as one. Common practice gives 0.5–1 % of light per kelvin and says nothing certain of current (from memory, no
/// source): so the shop's own figure is used, and only when it stands four standard errors clear of nothing.
/// </remarks>
internal sealed class CoolantDependence
{
    private const int LeastDays = 5;
    private const int LeastBlocks = 8;
    private const int LeastFree = 40;
    private const double LeastSigmas = 4;
    private const double BlocksThatCountAsOne = 4;
    private const double MostPerKelvin = 0.01;
    private const double MostCorrection = 0.03;

    private double _n, _x, _y, _xx, _xy, _yy;
    private double _within, _across, _spread;
    private double _free;
    private int _days;
    private double _reference;
    private double _referenceCount;

    /// <summary>Relative change of current per kelvin; 0 where the data do not support one.</summary>
    public double PerKelvin { get; private set; }

    /// <summary>Standard error of the slope, per kelvin; null before it can be told.</summary>
    public double? Error { get; private set; }

    /// <summary>The coolant temperature the baseline was learned at, °C; null before the first.</summary>
    public double? ReferenceCelsius => _referenceCount == 0 ? null : _reference;

    /// <summary>What the coolant does to the ratio now, as a fraction.</summary>
    public double Effect(double? coolantCelsius) => coolantCelsius is { } now && PerKelvin != 0
        ? Math.Clamp(PerKelvin * (now - _reference), -MostCorrection, MostCorrection)
        : 0;

    /// <param name="coolantCelsius">Mean coolant temperature of the block.</param>
    /// <param name="ratio">Its ratio, not corrected for coolant.</param>
    /// <param name="learning">The baseline is still being learned.</param>
    public void Take(double coolantCelsius, double ratio, bool learning)
    {
        if (learning || _referenceCount < 20)
        {
            _referenceCount++;
            _reference += (coolantCelsius - _reference) / _referenceCount;
        }

        // About a fixed point, so that the sums stay small and exact.
        var (x, y) = (coolantCelsius - 20, ratio - 1);
        _n++;
        _x += x;
        _y += y;
        _xx += x * x;
        _xy += x * y;
        _yy += y * y;
    }

    public void EndDay()
    {
        if (_n >= LeastBlocks)
        {
            _across += _xx - (_x * _x / _n);
            _within += _xy - (_x * _y / _n);
            _spread += _yy - (_y * _y / _n);
            _free += _n - 1;
            _days++;
            Judge();
        }

        (_n, _x, _y, _xx, _xy, _yy) = (0, 0, 0, 0, 0, 0);
    }

    public void Restart()
    {
        (_n, _x, _y, _xx, _xy, _yy) = (0, 0, 0, 0, 0, 0);
        (_within, _across, _spread, _free, _days) = (0, 0, 0, 0, 0);
        (_reference, _referenceCount, PerKelvin, Error) = (0, 0, 0, null);
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _n);
        state.Walk(ref _x);
        state.Walk(ref _y);
        state.Walk(ref _xx);
        state.Walk(ref _xy);
        state.Walk(ref _yy);
        state.Walk(ref _within);
        state.Walk(ref _across);
        state.Walk(ref _spread);
        state.Walk(ref _free);
        state.Walk(ref _days);
        state.Walk(ref _reference);
        state.Walk(ref _referenceCount);
        var (slope, error) = (PerKelvin, Error);
        state.Walk(ref slope);
        state.Walk(ref error);
        (PerKelvin, Error) = (slope, error);
    }

    private void Judge()
    {
        if (_days < LeastDays || _free < LeastFree || _across <= 0)
            return;
        var slope = _within / _across;
        var left = Math.Max(_spread - (slope * _within), 1e-12) / (_free - _days);
        Error = Math.Sqrt(BlocksThatCountAsOne * left / _across);
        PerKelvin = Math.Abs(slope) > LeastSigmas * Error ? Math.Clamp(slope, -MostPerKelvin, MostPerKelvin) : 0;
    }
}
