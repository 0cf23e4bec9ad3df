using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Rules;
using LaserWatch.Telemetry;
using MathNet.Numerics.Distributions;

namespace LaserWatch.Diagnosis;

/// <summary>What the sensors say of the last cut, as observations of the model's signs, and as a table for the reader.</summary>
/// <remarks>
/// An answer's agreement is Φ((deviation − threshold) / width): half at the threshold, sure a few widths beyond. Thresholds lie at about 0.6 of what
/// raises an alarm, since here the cut is known to be bad and the question is only why. An alarm of the last run makes its answer sure.
/// A channel that was not heard says nothing, and is named in <see cref="Missing"/>.
/// </remarks>
public sealed partial class Symptoms
{
    private const double Sure = 0.97;
    private const double Least = 0.02;
    private const double PowerPoints = 1.0;

    private readonly MachineSnapshot _machine;
    private readonly List<Observation> _observations = [];
    private readonly List<Comparison> _comparisons = [];
    private readonly List<string> _missing = [];
    private readonly CauseModel _model;

    private Symptoms(MachineSnapshot machine, CauseModel model)
    {
        (_machine, _model) = (machine, model);
        AirPressure();
        AirFlow();
        TubeCurrent();
        Power();
        CoolantTemperature(Channel.CoolantIn);
        CoolantTemperature(Channel.CoolantOut);
        Coolant();
        CoolantFlow();
        Room();
        Sensors();
        TestCut();
    }

    /// <summary>At most one a sign.</summary>
    public IReadOnlyList<Observation> Observations => _observations;

    /// <summary>In the order of the canonical channels.</summary>
    public IReadOnlyList<Comparison> Comparisons => [.. _comparisons.OrderBy(c => c.Channel.Index)];

    /// <summary>What was not heard or not recorded, and what cannot be told for it.</summary>
    public IReadOnlyList<string> Missing => _missing;

    public static Symptoms Of(MachineSnapshot machine, CauseModel model) => new(machine, model);

    private void AirPressure()
    {
        if (Value(Channel.AirPressure, inRunOnly: true) is not { } look)
        {
            Miss(Channel.AirPressure, "kink, leak, compressor and regulator");
            return;
        }

        var (value, _, usual) = look;
        var recorded = _machine.Record?.AirPressure?.Value;
        var (low, high) = (0.0, 0.0);
        var reference = recorded ?? usual;
        if (reference is > 0)
        {
            var tolerance = _machine.Record?.AirPressureTolerance ?? _machine.Rules.AirPressure.Tolerance;
            var deviation = (value - reference.Value) / reference.Value;
            low = Beyond(-deviation, 0.6 * tolerance, 0.2 * tolerance);
            high = Beyond(deviation, 0.035, 0.015); // a blocked nozzle raises the pressure before it by some 5 % only (ISO 6358)
        }

        if (Raised(Conditions.AirPressureLow) || Raised(Conditions.AirPressureLost))
            low = Sure;
        if (Raised(Conditions.AirPathRestricted) && _machine.Alarm(Conditions.AirPathRestricted)!.Raised.Unit == Channel.AirPressure.Unit)
            high = Sure;
        if (reference is > 0 || low > 0 || high > 0)
            Observe("air-pressure", ("air-pressure-low", low), ("air-pressure-high", high), Says(Channel.AirPressure, value, reference, recorded is not null));
        Compare(Channel.AirPressure, look, recorded, reference, low, high, percent: true);
    }

    private void AirFlow()
    {
        if (Value(Channel.AirFlow, inRunOnly: true) is not { } look)
        {
            Miss(Channel.AirFlow, "a blocked nozzle, which hardly shows in pressure");
            return;
        }

        var (value, _, usual) = look;
        var (low, high) = (0.0, 0.0);
        if (usual is > 0)
        {
            var deviation = (value - usual.Value) / usual.Value;
            var tolerance = _machine.Rules.AirPressure.FlowTolerance;
            low = Beyond(-deviation, 0.6 * tolerance, 0.25 * tolerance);
            high = Beyond(deviation, 0.6 * tolerance, 0.25 * tolerance);
        }

        if (Raised(Conditions.AirPathRestricted) && _machine.Alarm(Conditions.AirPathRestricted)!.Raised.Unit != Channel.AirPressure.Unit)
            low = Sure;
        if (usual is > 0 || low > 0)
            Observe("air-flow", ("air-flow-low", low), ("air-flow-high", high), Says(Channel.AirFlow, value, usual, recorded: false));
        Compare(Channel.AirFlow, look, null, usual, low, high, percent: true);
    }

    private void TubeCurrent()
    {
        if (_machine.Run is { IsRaster: true } && _machine.Tube is null)
        {
            _missing.Add("tube_current: the last run was a picture, whose current is that of its grey; tube, supply and command are not judged by it");
            return;
        }

        var look = Value(Channel.TubeCurrent, inRunOnly: true);
        var (recorded, reference) = (ComparableCurrent(), ComparableCurrent() ?? UsualCurrent());
        if (look is null && _machine.Tube is null)
        {
            Miss(Channel.TubeCurrent, "supply, command and mains");
            return;
        }

        var ratio = _machine.Tube?.Ratio ?? (look is { } seen && reference is > 0 ? seen.Value / reference.Value : (double?)null);
        var (low, high) = (0.0, 0.0);
        if (ratio is { } known)
        {
            var sag = _machine.Rules.TubeCurrent.Sag;
            var width = Math.Max(0.25 * sag, _machine.Tube?.Error ?? 0);
            low = Beyond(1 - known, 0.6 * sag, width);
            high = Beyond(known - 1, sag, width);
        }

        if (Raised(Conditions.TubeCurrentSag) || Raised(Conditions.TubeCurrentStep))
            low = Sure;
        if (Raised(Conditions.TubeCurrentHigh))
            high = Sure;
        var says = _machine.Tube is { } tube
            ? Text($"tube current {Percent(tube.Ratio - 1)} its baseline at {tube.Power:0} % power")
            : look is { } current ? Says(Channel.TubeCurrent, current.Value, reference, recorded is not null) : "";
        if (ratio is not null || low > 0 || high > 0)
            Observe("tube-current", ("tube-current-low", low), ("tube-current-high", high), says);
        if (look is { } shown)
        {
            var held = _machine.Tube is { } health ? shown.Value / health.Ratio : reference;
            Compare(Channel.TubeCurrent, shown, recorded, held, low, high, percent: true);
        }
    }

    private void Power()
    {
        if (Value(Channel.Power, inRunOnly: true) is not { } look)
        {
            Miss(Channel.Power, "a wrong power setting");
            return;
        }

        var reference = _machine.Record?.Power?.Value ?? look.Usual;
        var (low, high) = (0.0, 0.0);
        if (reference is { } wanted)
        {
            low = Beyond(wanted - look.Value, PowerPoints, 0.4);
            high = Beyond(look.Value - wanted, PowerPoints, 0.4);
            Observe("power-command", ("power-below-record", low), ("power-above-record", high), Says(Channel.Power, look.Value, reference, _machine.Record?.Power is not null));
        }

        Compare(Channel.Power, look, _machine.Record?.Power?.Value, reference, low, high, percent: false);
    }

    private void Sensors()
    {
        if (_machine.Channels.Count == 0)
            return;
        var faults = _machine.Channels.Where(c => c.Fault is not null).Select(c => $"{c.Channel.Name} {c.Fault}").ToList();
        var doubtful = faults.Count > 0 || Raised(Conditions.SensorStuck) || Raised(Conditions.SensorImplausible) || Raised(Conditions.SensorSilent);
        Observe("sensors", ("sensor-doubtful", doubtful ? Sure : 0), ("", 0), faults.Count > 0 ? string.Join(", ", faults) : doubtful ? "a sensor alarm in the last run" : "the sensors agree with themselves");
    }

    private void TestCut()
    {
        // An older one was of another state of the machine.
        if (_machine.TestCuts.Count == 0 || _machine.TestCuts[^1] is not { } cut || _machine.Run is { } run && cut.At < run.Began)
            return;
        if (TestCutOutcome.Of(cut) is not { } good)
        {
            _missing.Add($"test-cut of {cut.At}: its outcome is neither good nor bad in words known here (write outcome=through or outcome=not-through)");
            return;
        }

        Observe("test-cut", ("test-cut-fails", good ? 0 : Sure), ("test-cut-passes", good ? Sure : 0), $"the test cut of {cut.At} " + (good ? "was good" : "failed"));
    }

    /// <summary>The recorded current, where it was recorded at about the power that was now cut with.</summary>
    private double? ComparableCurrent() =>
        _machine.Record is { TubeCurrent.Value: > 0, Mode: CutMode.Vector } record
        && (record.Power is not { } power || _machine[Channel.Power]?.InRun is not { } used || Math.Abs(power.Value - used) <= PowerPoints)
            ? record.TubeCurrent!.Value.Value
            : null;

    /// <summary>The job's usual current, where earlier runs had about the same power.</summary>
    private double? UsualCurrent() =>
        _machine.Run is { IsRaster: false } && _machine[Channel.Power] is { InRun: { } power, Usual: { } usual } && Math.Abs(power - usual) <= PowerPoints
            ? _machine[Channel.TubeCurrent]?.Usual
            : null;

    private (double Value, bool InRun, double? Usual)? Value(Channel channel, bool inRunOnly)
    {
        if (_machine[channel] is not { } look)
            return null;
        if (look.InRun is { } value)
            return (value, true, look.Usual);
        return inRunOnly || look.Fault is not null ? null : (look.Now, false, look.Usual);
    }

    // An advice of low priority announces what may come; it is no proof.
    private bool Raised(string condition) => _machine.Alarm(condition)?.Raised.Priority > AlarmPriority.Low;

    private void Miss(Channel channel, string about) => _missing.Add(
        (_machine[channel] is not { } look ? $"{channel.Name}: never heard"
            : look.Fault is { } fault ? $"{channel.Name}: {fault}"
            : $"{channel.Name}: not heard with the beam on in the last run")
        + $"; so it says nothing of {about}");

    private void Observe(string sign, (string Answer, double Agreement) one, (string Answer, double Agreement) other, string says)
    {
        if (_model.FindSign(sign) is not { } known)
            return;
        var rest = Math.Max(Least, 1 - Math.Max(one.Agreement, other.Agreement));
        _observations.Add(new Observation(
            sign,
            [.. known.Answers.Select(a => Math.Max(Least, a.Id == one.Answer ? one.Agreement : a.Id == other.Answer ? other.Agreement : 0)), rest],
            says));
    }

    private void Compare(
        Channel channel, (double Value, bool InRun, double? Usual) look, double? recorded, double? reference, double low, double high, bool percent)
    {
        var difference = reference is not { } held ? ""
            : percent && held > 0 ? Text($"{((look.Value / held) - 1) * 100:+0.0;-0.0;0.0} %")
            : Text($"{look.Value - held:+0.0;-0.0;0.0} {channel.Unit}");
        var verdict = high >= 0.5 ? "too high" : low >= 0.5 ? "too low"
            : reference is null ? (IsJudgedByItself(channel) ? "in its range" : channel == Channel.AmbientTemperature ? "" : "nothing to compare with")
            : Math.Max(low, high) > 0.2 ? "near the limit"
            : recorded is not null ? "as recorded" : "as usual";
        _comparisons.Add(new Comparison(channel, look.Value, look.InRun, recorded, look.Usual, difference, verdict, Math.Max(low, high) >= 0.5));
    }

    private static bool IsJudgedByItself(Channel channel) =>
        channel == Channel.AmbientHumidity || channel == Channel.CoolantIn || channel == Channel.CoolantOut;

    private static double Beyond(double deviation, double threshold, double width) => Normal.CDF(threshold, width, deviation);

    private static string Says(Channel channel, double value, double? reference, bool recorded) => reference is not > 0
        ? Text($"{Name(channel)} {value:0.#} {channel.Unit}")
        : Text($"{Name(channel)} {value:0.#} {channel.Unit}, {Percent((value / reference.Value) - 1)} the {reference:0.#} {channel.Unit} {(recorded ? "recorded" : "usual for the job")}");

    private static string Percent(double fraction) => Math.Abs(fraction) < 0.0005 ? "at" : Text($"{Math.Abs(fraction) * 100:0.0} % {(fraction < 0 ? "below" : "above")}");

    private static string Name(Channel channel) => channel.Name.Replace('_', ' ');

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
