using LaserWatch.Models;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>What may have moved a loop's resting point.</summary>
internal enum DriftCause
{
    FouledCooler,
    StoppedFan,
    SetPoint,
    Sensor,
    WeakPump,
    LowCoolant,
    CleanerCooler,
}

/// <summary>What the residuals say of a drift.</summary>
/// <param name="Causes">Weights that sum to 1, greatest first.</param>
/// <param name="Since">Most likely beginning.</param>
/// <param name="Gradual">Probability that it came slowly rather than at once.</param>
internal sealed record DriftAccount(IReadOnlyList<(DriftCause Cause, double Weight)> Causes, Instant Since, double Gradual);

/// <summary>Weighs the causes of a drift: each changes another part of the model, and so leaves another mark on the errors.</summary>
/// <remarks>
/// A set point or a sensor moves the rest by the same at any load and room; a worse cooler (thermal resistance up) moves it in proportion to coolant
/// above room, a weak pump in proportion to load. Each mark is fitted by least squares as a step and
/// as a ramp from every possible beginning; its likelihood is averaged over the beginnings, multiplied by a prior (common practice, no source)
/// and by what other channels say. The errors' scatter is taken as large as the best fit leaves it, and at least a part of the shift, so that no
/// error of the model passes for proof.
/// </remarks>
internal static class DriftCauses
{
    private const int LeastRampBlocks = 24;

    // No mark is believed to be followed more closely than so, as a part of the shift.
    private const double LeastScatter = 0.2;

    private static readonly Func<DriftPoint, double>[] Marks = [_ => 1, p => p.AboveRoom, p => p.Load];

    public static DriftAccount Of(LoopWatch loop, RiseWatch rise)
    {
        var n = loop.History.Count;
        var points = new DriftPoint[n];
        for (var i = 0; i < n; i++)
            points[i] = loop.History[i];
        var fits = new Fit[Marks.Length * 2];
        for (var mark = 0; mark < Marks.Length; mark++)
        {
            fits[mark] = new Fit(points, Marks[mark], ramp: false, Math.Sign(loop.Test.Shift));
            fits[Marks.Length + mark] = new Fit(points, Marks[mark], ramp: true, Math.Sign(loop.Test.Shift));
        }

        var total = points.Sum(p => p.Blocks * p.Shift * p.Shift);
        var blocks = points.Sum(p => p.Blocks);
        var best = fits.Max(f => f.Best);
        var least = LeastScatter * loop.Test.Shift;
        var variance = Math.Max(
            (least * least) + (loop.Model.LongRunVariance / (loop.Model.Gain * loop.Model.Gain)), (total - best) / Math.Max(1, blocks - 3));
        double Step(int mark) => fits[mark].Log(variance);
        double Ramp(int mark) => fits[Marks.Length + mark].Log(variance);

        var radiator = loop.Model.IsRadiator;
        var worse = radiator ? 1 : 2; // the mark of a cooler that carries less
        Dictionary<DriftCause, double> logs = new()
        {
            [DriftCause.SetPoint] = Math.Log(radiator ? 0.03 : 0.35) + Step(0),
            [DriftCause.Sensor] = Math.Log(0.1) + Mean(Step(0), Ramp(0)),
        };
        if (loop.Test.Shift > 0)
        {
            logs[DriftCause.FouledCooler] = Math.Log(0.3) + Ramp(worse);
            logs[DriftCause.StoppedFan] = Math.Log(0.25) + Step(worse);
            logs[DriftCause.WeakPump] = Math.Log(0.1) + Mean(Step(2), Ramp(2));
            logs[DriftCause.LowCoolant] = Math.Log(0.05) + Mean(Step(worse), Ramp(worse));
        }
        else
        {
            logs[DriftCause.CleanerCooler] = Math.Log(radiator ? 0.4 : 0.1) + Mean(Step(worse), Ramp(worse));
        }

        Hear(logs, loop, rise, points);
        var (greatest, sum) = (logs.Values.Max(), 0.0);
        foreach (var log in logs.Values)
            sum += Math.Exp(log - greatest);
        var ramps = Enumerable.Range(0, Marks.Length).Aggregate(double.NegativeInfinity, (a, m) => Add(a, Ramp(m)));
        var steps = Enumerable.Range(0, Marks.Length).Aggregate(double.NegativeInfinity, (a, m) => Add(a, Step(m)));
        var gradual = Math.Exp(ramps - Add(ramps, steps));
        var beginning = fits.Skip(gradual > 0.5 ? Marks.Length : 0).Take(Marks.Length).MaxBy(f => f.Best)!.Beginning;
        return new DriftAccount(
            [.. logs.Select(pair => (pair.Key, Math.Exp(pair.Value - greatest) / sum)).OrderByDescending(c => c.Item2)],
            n == 0 ? loop.Test.ChangedAt : points[Math.Min(beginning, n - 1)].At - TimeSpan.FromSeconds(CoolantBlocks.Seconds), gradual);
    }

    public static string Name(DriftCause cause) => cause switch
    {
        DriftCause.FouledCooler => "fouled-cooler",
        DriftCause.StoppedFan => "stopped-fan",
        DriftCause.SetPoint => "set-point",
        DriftCause.Sensor => "sensor",
        DriftCause.WeakPump => "weak-pump",
        DriftCause.LowCoolant => "low-coolant",
        _ => "cleaner-cooler",
    };

    public static string Words(DriftCause cause) => cause switch
    {
        DriftCause.FouledCooler => "a cooler that fouls",
        DriftCause.StoppedFan => "a stopped or suddenly blocked fan",
        DriftCause.SetPoint => "a moved set point",
        DriftCause.Sensor => "a temperature sensor that reads wrong",
        DriftCause.WeakPump => "a weak pump",
        DriftCause.LowCoolant => "too little coolant",
        _ => "a cooler that was cleaned or cools harder",
    };

    /// <summary>The check that tells the cause from the others. Common practice, no published source.</summary>
    public static string Check(DriftCause cause) => cause switch
    {
        DriftCause.FouledCooler => "Switch the fan off and let it cool: look at the radiator's or chiller's fins and filter for dust and clean them",
        DriftCause.StoppedFan => "See, without touching, that the cooler's fan turns at full speed and nothing stands before it",
        DriftCause.SetPoint => "Compare the chiller's set point with the one it used to have",
        DriftCause.Sensor => "With the beam off, compare the coolant sensor with a thermometer in the reservoir, and the room sensor with one beside it",
        DriftCause.WeakPump => "Look, without touching, at the pump, its filter and the hoses for a bend; compare the flow with the usual one",
        DriftCause.LowCoolant => "Look at the coolant level, and for bubbles; do not touch tube or hoses near the high-voltage end",
        _ => "Log a cleaning or a new setting as service, so that the new normal is learned",
    };

    /// <summary>What the other channels say for and against, as factors of likelihood (common practice, no source).</summary>
    private static void Hear(Dictionary<DriftCause, double> logs, LoopWatch loop, RiseWatch rise, DriftPoint[] points)
    {
        void Weigh(DriftCause cause, double factor)
        {
            if (logs.TryGetValue(cause, out var log))
                logs[cause] = log + Math.Log(factor);
        }

        if (rise.RatioNow is { } ratio)
            Weigh(DriftCause.WeakPump, ratio > 1.2 ? 30 : ratio < 1.1 ? 0.03 : 1);
        else
            Weigh(DriftCause.WeakPump, 0.3);
        if (rise.ZeroMoved is { } zero)
            Weigh(DriftCause.Sensor, Math.Abs(zero + loop.Test.Shift) < 0.4 * Math.Abs(loop.Test.Shift) ? 50 : Math.Abs(zero) < 0.25 * Math.Abs(loop.Test.Shift) ? 0.2 : 1);
        if (loop.Morning.Moved is { } morning)
            Weigh(DriftCause.Sensor, Math.Abs(morning - loop.Test.Shift) < 0.4 * Math.Abs(loop.Test.Shift) ? 20 : Math.Abs(morning) < 0.3 * Math.Abs(loop.Test.Shift) ? 0.1 : 1);

        // A chiller that still swings about its set point has not lost its hold: the point itself has moved.
        if (loop.Model.IsRadiator || points.Length < 24)
            return;
        var before = points.Take(points.Length / 2).Average(p => p.Swing);
        var now = points.TakeLast(4).Average(p => p.Swing);
        if (before < 0.2)
            return;
        var held = now > 0.6 * before;
        Weigh(DriftCause.SetPoint, held ? 3 : 0.2);
        Weigh(DriftCause.FouledCooler, held ? 0.3 : 2);
        Weigh(DriftCause.StoppedFan, held ? 0.3 : 2);
    }

    private static double Add(double a, double b)
    {
        var greatest = Math.Max(a, b);
        return double.IsNegativeInfinity(greatest) ? greatest : greatest + Math.Log(Math.Exp(a - greatest) + Math.Exp(b - greatest));
    }

    private static double Mean(double a, double b) => Add(a, b) - Math.Log(2);

    /// <summary>One mark, as a step or as a ramp, fitted from every possible beginning.</summary>
    private sealed class Fit
    {
        private readonly double[] _gains;

        public Fit(DriftPoint[] points, Func<DriftPoint, double> mark, bool ramp, int sign)
        {
            _gains = new double[points.Length];
            var blocks = 0.0;
            for (var from = points.Length - 1; from >= 0; from--)
            {
                blocks += points[from].Blocks;
                double fy = 0, ff = 0, reached = ramp ? 0 : points[from].Blocks;
                // A step begins within its first point, which shows it only in part.
                for (var i = ramp ? from : from + 1; i < points.Length; i++)
                {
                    reached += points[i].Blocks;
                    var f = mark(points[i]) * (ramp ? reached / blocks : 1);
                    fy += points[i].Blocks * f * points[i].Shift;
                    ff += points[i].Blocks * f * f;
                }

                var allowed = ff > 0 && (!ramp || blocks >= LeastRampBlocks) && Math.Sign(fy) == sign;
                _gains[from] = allowed ? (fy * fy / ff) + (ramp ? 0 : points[from].Blocks * points[from].Shift * points[from].Shift) : 0;
                if (_gains[from] > Best)
                    (Best, Beginning) = (_gains[from], from);
            }
        }

        /// <summary>Greatest fall of the sum of squares, K²·blocks.</summary>
        public double Best { get; }

        public int Beginning { get; }

        /// <summary>Logarithm of the likelihood against no change, averaged over the beginnings.</summary>
        public double Log(double variance)
        {
            var sum = 0.0;
            foreach (var gain in _gains)
                sum += Math.Exp((gain - Best) / (2 * variance));
            return (Best / (2 * variance)) + Math.Log(Math.Max(sum, 1e-300) / Math.Max(1, _gains.Length));
        }
    }
}
