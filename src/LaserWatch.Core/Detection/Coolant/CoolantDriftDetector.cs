using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>The coolant has moved away from its own normal at like load and room temperature.</summary>
/// <remarks>
/// A first-order loop in five-minute means: next = a·now + b·room + c·load + d, learned per machine by recursive least squares
/// with priors and the full uncertainty of its parameters. The mean of the latest prediction errors, divided by 1 − a, is how far
/// the loop's resting point has moved. A room hotter than any seen before widens the uncertainty instead of raising an alarm.
/// </remarks>
internal sealed class CoolantDriftDetector(CoolantOptions options) : IDetector
{
    private const double BlockSeconds = 300;
    private const int Parameters = 4;
    private const int BlocksThatTeach = 48;
    private const int BlocksThatAreEnough = 240;
    private const int WarmUpBlocks = 3;
    private const int Recent = 6;
    private const double LeastSigmas = 4;
    private const double RoomCentre = 22;
    private const double CoolantCentre = 22;

    // Priors: a loop that forgets half in some minutes, follows the room by half, and warms by some kelvins at full load.
    private double[] _theta = [0.5, 0.25, 1, 0];
    private double[] _covariance = Diagonal(0.09, 0.09, 4, 25);
    private double _noiseSum = 0.25 * 4;
    private double _noiseCount = 4;
    private int _learned;
    private double[] _errors = new double[Recent];
    private double[] _rows = new double[Recent * Parameters];
    private int _judged;
    private Instant? _start;
    private Instant _lastAt;
    private double _seconds, _coolantSum, _roomSum, _loadSum, _beamSum;
    private double? _before;
    private int _sinceGap;
    private int _agreeing;
    private int _clear;
    private bool _breach;
    private double _shift;
    private double _shiftError;
    private double _expected;
    private double _measured;

    public string Condition => Conditions.CoolantDrift;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.CoolantIn);

    public Verdict Update(Reading reading)
    {
        if (!reading.Has(Channel.CoolantIn) || !reading.Has(Channel.AmbientTemperature, TimeSpan.FromMinutes(15)))
            return default;
        if (!reading.Fresh.Has(Channel.CoolantIn))
            return Say();

        var at = reading.TimeOf(Channel.CoolantIn);
        var step = _start is null ? 0 : at.SecondsSince(_lastAt);
        if (_start is null || step is > 120 or < 0)
        {
            (_before, _sinceGap) = (null, 0);
            Begin(at);
            step = 0;
        }

        _lastAt = at;
        var weight = Math.Max(step, 1e-3);
        var load = reading.BeamOn == true ? (reading.Has(Channel.Power) ? reading[Channel.Power] / 100 : 1) : 0;
        _seconds += weight;
        _coolantSum += weight * reading[Channel.CoolantIn];
        _roomSum += weight * reading[Channel.AmbientTemperature];
        _loadSum += weight * load;
        _beamSum += reading.BeamOn == true ? weight : 0;
        if (at.SecondsSince(_start!.Value) >= BlockSeconds)
        {
            CloseBlock();
            Begin(at);
        }

        return Say();
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(AlarmPriority.Medium, "°C", "the coolant is back at its own normal", [], []);
        var direction = _shift > 0 ? "warmer" : "colder";
        return new Finding(
            AlarmPriority.Medium, "°C",
            string.Create(CultureInfo.InvariantCulture, $"coolant rests {Math.Abs(_shift):0.0} K (± {2 * _shiftError:0.0} K) {direction} than this machine's own normal at the present load and room temperature"),
            [
                new Evidence("shift_kelvins", Math.Round(_shift, 2)), new Evidence("shift_standard_error", Math.Round(_shiftError, 2)),
                new Evidence("expected", Math.Round(_expected, 2)), new Evidence("hours_learned", Math.Round(_learned * BlockSeconds / 3600, 1)),
                new Evidence("ambient_temperature", reading[Channel.AmbientTemperature]),
            ],
            Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        foreach (var channel in new[] { Channel.CoolantIn, Channel.AmbientTemperature })
        {
            if (reading.Lack(channel) is { } lack)
                lacks.Add(lack);
        }

        if (_learned < BlocksThatTeach)
            lacks.Add(string.Create(CultureInfo.InvariantCulture, $"the machine's normal is being learned: {_learned * BlockSeconds / 3600:0.0} of {BlocksThatTeach * BlockSeconds / 3600:0} h with the beam in use"));
        return lacks;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _theta);
        state.Walk(ref _covariance);
        state.Walk(ref _noiseSum);
        state.Walk(ref _noiseCount);
        state.Walk(ref _learned);
        state.Walk(ref _errors);
        state.Walk(ref _rows);
        state.Walk(ref _judged);
        state.Walk(ref _start);
        state.Walk(ref _lastAt);
        state.Walk(ref _seconds);
        state.Walk(ref _coolantSum);
        state.Walk(ref _roomSum);
        state.Walk(ref _loadSum);
        state.Walk(ref _beamSum);
        state.Walk(ref _before);
        state.Walk(ref _sinceGap);
        state.Walk(ref _agreeing);
        state.Walk(ref _clear);
        state.Walk(ref _breach);
        state.Walk(ref _shift);
        state.Walk(ref _shiftError);
        state.Walk(ref _expected);
        state.Walk(ref _measured);
        if (state.IsLoading && (_theta.Length != Parameters || _covariance.Length != Parameters * Parameters
            || _errors.Length != Recent || _rows.Length != Recent * Parameters))
            StateVisitor.Refuse();
    }

    private void Begin(Instant at)
    {
        _start = at;
        (_seconds, _coolantSum, _roomSum, _loadSum, _beamSum) = (0, 0, 0, 0, 0);
    }

    private void CloseBlock()
    {
        var coolant = _coolantSum / _seconds;
        var inUse = _beamSum / _seconds > 0.02;
        if (!inUse)
        {
            // Without the beam the pump or the chiller may be off, and the loop another one.
            (_before, _sinceGap) = (null, 0);
            return;
        }

        _sinceGap++;
        if (_before is { } before && _sinceGap > WarmUpBlocks)
        {
            Span<double> row = [before - CoolantCentre, (_roomSum / _seconds) - RoomCentre, _loadSum / _seconds, 1];
            Take(row, coolant - CoolantCentre);
        }

        _before = coolant;
    }

    private void Take(ReadOnlySpan<double> row, double target)
    {
        var error = target - Dot(_theta, row);
        var spread = Quadratic(row);
        var noise = _noiseSum / _noiseCount;
        _expected = target - error + CoolantCentre;
        _measured = target + CoolantCentre;

        Array.Copy(_errors, 1, _errors, 0, Recent - 1);
        _errors[Recent - 1] = error;
        Array.Copy(_rows, Parameters, _rows, 0, (Recent - 1) * Parameters);
        row.CopyTo(_rows.AsSpan((Recent - 1) * Parameters));
        _judged++;
        var drifting = _learned >= BlocksThatTeach && _judged >= Recent && IsDrifting(noise);

        var newGround = spread > 0.05 * noise;
        var fits = error * error < 9 * (noise + spread);
        if (!drifting && !_breach && _agreeing == 0 && (_learned < BlocksThatTeach || (fits && (newGround || _learned < BlocksThatAreEnough))))
            Learn(row, Math.Clamp(error, -4 * Math.Sqrt(noise + spread), 4 * Math.Sqrt(noise + spread)), spread, noise);
    }

    private bool IsDrifting(double noise)
    {
        var mean = 0.0;
        Span<double> row = stackalloc double[Parameters];
        row.Clear();
        for (var i = 0; i < Recent; i++)
        {
            mean += _errors[i] / Recent;
            for (var j = 0; j < Parameters; j++)
                row[j] += _rows[(i * Parameters) + j] / Recent;
        }

        // What the parameters do not know is the same in every error of the stretch, so it does not average out.
        var variance = (noise / Recent) + Quadratic(row);
        var gain = 1 - Math.Clamp(_theta[0], 0, 0.97);
        _shift = mean / gain;
        _shiftError = Math.Sqrt(variance) / gain;
        var far = Math.Abs(_shift) >= options.LeastDriftKelvins && Math.Abs(mean) >= LeastSigmas * Math.Sqrt(variance);
        if (!_breach)
        {
            _agreeing = far ? _agreeing + 1 : 0;
            _breach = _agreeing >= 2;
            _clear = 0;
        }
        else
        {
            _clear = Math.Abs(_shift) < options.LeastDriftKelvins / 2 ? _clear + 1 : 0;
            _breach = _clear < Recent;
            _agreeing = _breach ? _agreeing : 0;
        }

        return far;
    }

    private void Learn(ReadOnlySpan<double> row, double error, double spread, double noise)
    {
        // The covariance is in units of the noise prior, so the gain uses the present noise estimate.
        var total = noise + spread;
        Span<double> gain = stackalloc double[Parameters];
        for (var i = 0; i < Parameters; i++)
        {
            gain[i] = 0;
            for (var j = 0; j < Parameters; j++)
                gain[i] += _covariance[(i * Parameters) + j] * row[j] / total;
        }

        Span<double> projected = stackalloc double[Parameters];
        for (var j = 0; j < Parameters; j++)
        {
            projected[j] = 0;
            for (var i = 0; i < Parameters; i++)
                projected[j] += row[i] * _covariance[(i * Parameters) + j];
        }

        for (var i = 0; i < Parameters; i++)
        {
            _theta[i] += gain[i] * error;
            for (var j = 0; j < Parameters; j++)
                _covariance[(i * Parameters) + j] -= gain[i] * projected[j];
        }

        _noiseSum += error * error * noise / total;
        _noiseCount++;
        _learned++;
    }

    private double Quadratic(ReadOnlySpan<double> row)
    {
        var sum = 0.0;
        for (var i = 0; i < Parameters; i++)
        {
            for (var j = 0; j < Parameters; j++)
                sum += row[i] * _covariance[(i * Parameters) + j] * row[j];
        }

        return sum;
    }

    private static double Dot(ReadOnlySpan<double> a, ReadOnlySpan<double> b) => (a[0] * b[0]) + (a[1] * b[1]) + (a[2] * b[2]) + (a[3] * b[3]);

    private static double[] Diagonal(params ReadOnlySpan<double> values)
    {
        var matrix = new double[values.Length * values.Length];
        for (var i = 0; i < values.Length; i++)
            matrix[(i * values.Length) + i] = values[i];
        return matrix;
    }

    private Verdict Say() => _judged < Recent || _learned < BlocksThatTeach
        ? default
        : new(_breach ? Judgement.Breach : Judgement.Normal, Math.Round(_measured, 2), Math.Round(_expected + (Math.Sign(_shift) * options.LeastDriftKelvins), 2));
}
