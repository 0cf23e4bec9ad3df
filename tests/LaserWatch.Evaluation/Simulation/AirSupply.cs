namespace LaserWatch.Evaluation.Simulation;

/// <summary>Air assist from the compressor to the nozzle.</summary>
internal sealed record AirPlan
{
    /// <summary>Tank, litres; 0: a house line that never sags.</summary>
    public double TankLitres { get; init; } = 50;

    public double CutInKilopascals { get; init; } = 550;

    public double CutOutKilopascals { get; init; } = 750;

    /// <summary>Free air the compressor delivers, L/min.</summary>
    public double CompressorLitresPerMinute { get; init; } = 140;

    /// <summary>How much of the tank's relative swing passes the regulator, as a fraction of the set pressure at the ends of the swing. 0.01 is a good regulator, 0.08 a poor one.</summary>
    public double SwingPassed { get; init; } = 0.01;

    /// <summary>ISO 6358 conductance of line and nozzle, dm³/(s·bar).</summary>
    public double LineConductance { get; init; } = 1.0;

    public double NozzleConductance { get; init; } = 0.35;

    /// <summary>Standard deviation with which a person sets the pressure for another job, as a fraction; never more than two of them.</summary>
    public double SettingScatter { get; init; } = 0.015;

    /// <summary>Seconds in which the line fills to 63 %.</summary>
    public double FillSeconds { get; init; } = 0.7;

    /// <summary>The valve opens with the beam and shuts a second after it; otherwise it is open for the whole run.</summary>
    public bool ValveFollowsBeam { get; init; }

    /// <summary>Strokes and turbulence at the sensor, as a fraction of the pressure.</summary>
    public double Ripple { get; init; } = 0.006;
}

/// <summary>Tank, regulator, line and nozzle, each by its own law.</summary>
internal sealed class AirSupply
{
    private readonly AirPlan _plan;
    private readonly Noise _noise;
    private double _tank;
    private bool _compressor;
    private double _setting;
    private double _lastNode;

    public AirSupply(AirPlan plan, Noise noise)
    {
        _plan = plan;
        _noise = noise;
        _tank = (plan.CutInKilopascals + plan.CutOutKilopascals) / 2;
    }

    /// <summary>Gauge pressure at the sensor before the nozzle, kPa.</summary>
    public double Kilopascals { get; private set; }

    /// <summary>Free air through the line's flow sensor, L/min.</summary>
    public double LitresPerMinute { get; private set; }

    /// <summary>A person sets the regulator so that the gauge shows the job's pressure, more or less.</summary>
    public void SetFor(double recordedKilopascals)
    {
        var scatter = Math.Clamp(_noise.Normal(), -2, 2) * _plan.SettingScatter;
        _setting = AirPath.SupplyFor(recordedKilopascals * (1 + scatter), _plan.LineConductance, _plan.NozzleConductance);
    }

    public void Step(double seconds, bool valveOpen, Damage damage, double kinkedLine, double leak)
    {
        var tankShare = (_tank - ((_plan.CutInKilopascals + _plan.CutOutKilopascals) / 2))
            / ((_plan.CutOutKilopascals - _plan.CutInKilopascals) / 2);
        var passed = _plan.TankLitres > 0 ? _plan.SwingPassed * Math.Clamp(tankShare, -1.5, 1.2) : 0;
        var regulated = _setting * damage.Regulator * (1 + passed);
        if (_plan.TankLitres > 0)
            regulated = Math.Min(regulated, Math.Max(_tank - 15, 0));

        double goal = 0;
        double flow = 0;
        if (valveOpen && !damage.ValveShut && regulated > 0.1)
        {
            var line = _plan.LineConductance * kinkedLine;
            (goal, flow) = AirPath.Solve(regulated, line, _plan.NozzleConductance * damage.Nozzle, leak, _lastNode);
            _lastNode = goal;
        }

        Kilopascals += (goal - Kilopascals) * (1 - Math.Exp(-seconds / _plan.FillSeconds));
        LitresPerMinute += (flow - LitresPerMinute) * (1 - Math.Exp(-seconds / _plan.FillSeconds));
        FollowTank(seconds, flow, damage);
    }

    /// <summary>What ripples at the sensor, as a factor.</summary>
    public double Ripple() => 1 + (_plan.Ripple * _noise.Normal());

    private void FollowTank(double seconds, double flow, Damage damage)
    {
        if (_plan.TankLitres <= 0)
            return;
        if (_tank < _plan.CutInKilopascals)
            _compressor = true;
        else if (_tank > _plan.CutOutKilopascals)
            _compressor = false;
        var delivered = _compressor && !damage.CompressorTripped ? _plan.CompressorLitresPerMinute : 0;
        _tank = Math.Max(_tank + (seconds / 60 * (delivered - flow) * AirPath.AtmosphereKilopascals / _plan.TankLitres), 0);
    }
}
