namespace LaserWatch.Evaluation.Simulation;

/// <summary>Line and nozzle in series, each an ISO 6358 conductance, with a leak between them where there is one.</summary>
/// <remarks>
/// q = C·p1 where p2/p1 is below b, else times √(1 − ((p2/p1 − b)/(1 − b))²): ISO 6358-1:2013 at 20 °C, exponent 0.5 (formula from
/// memory). Pressures absolute within, gauge in kPa without; flows in L/min of free air (20 °C, 100 kPa).
/// </remarks>
internal static class AirPath
{
    public const double AtmosphereKilopascals = 101.325;
    private const double LineCriticalRatio = 0.3;
    private const double NozzleCriticalRatio = 0.5;

    /// <summary>Flow through a restriction, L/min.</summary>
    /// <param name="conductance">C, dm³/(s·bar).</param>
    /// <param name="upstream">kPa absolute.</param>
    /// <param name="downstream">kPa absolute.</param>
    public static double Flow(double conductance, double criticalRatio, double upstream, double downstream)
    {
        if (upstream <= downstream)
            return 0;
        var ratio = downstream / upstream;
        var choked = conductance * upstream / 100 * 60;
        if (ratio <= criticalRatio)
            return choked;
        var x = (ratio - criticalRatio) / (1 - criticalRatio);
        return choked * Math.Sqrt(1 - (x * x));
    }

    /// <summary>The pressure at the sensor between line and nozzle, kPa gauge, and the flow through the line, L/min.</summary>
    /// <param name="guess">An earlier answer, kPa gauge; only hastens.</param>
    public static (double Kilopascals, double LitresPerMinute) Solve(double supply, double line, double nozzle, double leak, double guess = 0)
    {
        var top = supply + AtmosphereKilopascals;
        double low = AtmosphereKilopascals;
        var high = top;
        var node = Math.Clamp(guess + AtmosphereKilopascals, low, high);
        for (var i = 0; i < 40 && high - low > 0.01; i++)
        {
            var surplus = Surplus(node);
            if (surplus > 0)
                low = node;
            else
                high = node;
            // First look closely round the guess, then halve.
            node = i == 0 ? Math.Clamp(node + Math.CopySign(0.2, surplus), low, high) : (low + high) / 2;
        }

        return (node - AtmosphereKilopascals, Flow(line, LineCriticalRatio, top, node));

        double Surplus(double at) => Flow(line, LineCriticalRatio, top, at)
            - Flow(nozzle, NozzleCriticalRatio, at, AtmosphereKilopascals) - Flow(leak, NozzleCriticalRatio, at, AtmosphereKilopascals);
    }

    /// <summary>The supply pressure that gives a pressure at the sensor, kPa gauge.</summary>
    public static double SupplyFor(double atSensor, double line, double nozzle) =>
        Bisect(atSensor, atSensor + 900, supply => Solve(supply, line, nozzle, 0).Kilopascals >= atSensor);

    /// <summary>The share of its conductance a kink leaves the line, so that the pressure at the sensor falls by a fraction.</summary>
    public static double KinkFor(double fall, double atSensor, double line, double nozzle)
    {
        var supply = SupplyFor(atSensor, line, nozzle);
        return Bisect(0.001, 1, share => Solve(supply, line * share, nozzle, 0).Kilopascals >= atSensor * (1 - fall));
    }

    /// <summary>The leak's conductance by which the pressure at the sensor falls by a fraction, dm³/(s·bar).</summary>
    public static double LeakFor(double fall, double atSensor, double line, double nozzle)
    {
        var supply = SupplyFor(atSensor, line, nozzle);
        return Bisect(0, 20, leak => Solve(supply, line, nozzle, leak).Kilopascals <= atSensor * (1 - fall));
    }

    /// <summary>The least value at which something that stays true becomes so.</summary>
    private static double Bisect(double low, double high, Func<double, bool> isReached)
    {
        for (var i = 0; i < 40; i++)
        {
            var middle = (low + high) / 2;
            if (isReached(middle))
                high = middle;
            else
                low = middle;
        }

        return high;
    }
}
