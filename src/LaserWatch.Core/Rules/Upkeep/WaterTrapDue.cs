using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Rules;

/// <summary>The water trap is due to be drained, by the water that must have condensed from the air used since it last was.</summary>
/// <remarks>
/// Air used is the flow where it is measured, else what the nozzle lets through at the pressure while a run is under way. Counting begins with the
/// first drained trap that is logged: before, nobody knows whether there is a trap, or what is in it. Then one alarm stands until the next.
/// </remarks>
internal sealed class WaterTrapDue(ServiceLedger ledger, WaterTrapOptions options) : IDetector
{
    private const string Part = "water-trap";
    private const double LongestGapSeconds = 120;
    private const double LeastFlow = 0.5;
    private static readonly TimeSpan OldestRoom = TimeSpan.FromHours(2);
    private static readonly string[] EmptyingActions = ["drained", "emptied", "cleaned", "serviced", "replaced", "installed", "changed", "exchanged", "fitted", "new"];

    private int _worksThen = -1;
    private Instant? _drained;
    private Instant? _at;
    private double _millilitres;
    private double _cubicMetres;
    private double _blindCubicMetres;

    // Of the room as it was last, which changes far more slowly than the air.
    private double _room = double.NaN;
    private double _humidity;
    private double _inTrap;

    public string Condition => Conditions.WaterTrapDue;

    public ChannelSet Triggers { get; } = ChannelSet.Of(Channel.AirFlow, Channel.AirPressure) | ChannelSet.Tick;

    public Verdict Update(Reading reading)
    {
        Follow(reading);
        return Say(reading);
    }

    /// <summary>Takes the reading; true where the verdict is a breach.</summary>
    public bool Follow(Reading reading)
    {
        if (options.AutomaticDrain)
            return false;
        if (_worksThen != ledger.WorksEver)
            LookUp();
        var byFlow = reading.Knows(CanonicalIndex.AirFlow);
        var source = byFlow ? CanonicalIndex.AirFlow : CanonicalIndex.AirPressure;
        if (reading.IsFresh(source) && reading.Has(source))
            Take(reading, reading.TimeOf(source), byFlow);
        return IsBreach;
    }

    /// <summary>The verdict on the reading that was taken last.</summary>
    public Verdict Say(Reading reading)
    {
        if (options.AutomaticDrain)
            return new Verdict(Judgement.Normal);
        return _drained is null ? default : new Verdict(IsBreach ? Judgement.Breach : Judgement.Normal, _millilitres, Limit);
    }

    public Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(Priorities.Of(Condition, Degree.Plain), "mL", "the water trap was drained", [], []);
        List<Evidence> evidence =
        [
            new("condensate_ml", Math.Round(_millilitres, 1)), new("trap_ml", options.TrapMillilitres),
            new("air_used_m3", Math.Round(_cubicMetres + _blindCubicMetres, 2)),
            new("since", _drained!.Value.ToString()),
            new("air_used_from", reading.Knows(CanonicalIndex.AirFlow) ? "air_flow" : "air_pressure and the nozzle's conductance"),
        ];
        if (_blindCubicMetres > 0)
            evidence.Add(new Evidence("air_used_without_room_humidity_m3", Math.Round(_blindCubicMetres, 2)));
        return new Finding(
            Priorities.Of(Condition, Degree.Plain),
            "mL",
            string.Create(CultureInfo.InvariantCulture, $"some {_millilitres:0} mL of water have condensed from the air since the trap was drained; it holds {options.TrapMillilitres:0} mL"),
            evidence,
            Advice.For(Condition));
    }

    public IReadOnlyList<string> Lacks(Reading reading)
    {
        List<string> lacks = [];
        if (_drained is null)
            lacks.Add("no drained trap is logged yet (service: part water-trap, action drained): counting begins with it");
        if (reading.Lack(Channel.AmbientHumidity) is { } humidity)
            lacks.Add(humidity);
        if (reading.Lack(Channel.AmbientTemperature) is { } temperature)
            lacks.Add(temperature);
        if (reading.Lack(Channel.AirFlow) is { } flow)
            lacks.Add(reading.Lack(Channel.AirPressure) is { } pressure ? $"{flow}, {pressure}" : flow + " (reckoned from pressure and nozzle)");
        return options.AutomaticDrain ? [] : lacks;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _worksThen);
        state.Walk(ref _drained);
        state.Walk(ref _at);
        state.Walk(ref _millilitres);
        state.Walk(ref _cubicMetres);
        state.Walk(ref _blindCubicMetres);
    }

    private bool IsBreach => _drained is not null && _millilitres >= Limit;

    private double Limit => options.TrapMillilitres * options.DueFraction;

    private void LookUp()
    {
        _worksThen = ledger.WorksEver;
        foreach (var action in EmptyingActions)
        {
            if (ledger.Of(Part, action) is not { } work || work.At <= (_drained ?? Instant.MinValue))
                continue;
            _drained = work.At;
            (_millilitres, _cubicMetres, _blindCubicMetres) = (0, 0, 0);
        }
    }

    private void Take(Reading reading, Instant at, bool byFlow)
    {
        var seconds = _at is { } before ? at.SecondsSince(before) : 0;
        _at = at;
        // What is counted before the first is logged, that one makes naught.
        if (_drained is null)
            return;
        if (seconds is <= 0 or > LongestGapSeconds)
            return;
        double litresPerMinute;
        if (byFlow)
            litresPerMinute = reading[CanonicalIndex.AirFlow];
        else
            litresPerMinute = reading.Run is null ? 0 : SonicConductance.NozzleFlow(options.NozzleConductance, reading[CanonicalIndex.AirPressure]);
        if (litresPerMinute < LeastFlow)
            return;

        var cubicMetres = litresPerMinute * seconds / 60_000;
        if (!reading.Has(CanonicalIndex.AmbientHumidity, OldestRoom) || !reading.Has(CanonicalIndex.AmbientTemperature, OldestRoom))
        {
            _blindCubicMetres += cubicMetres;
            return;
        }

        var (room, humidity) = (reading[CanonicalIndex.AmbientTemperature], Math.Clamp(reading[CanonicalIndex.AmbientHumidity], 0, 100));
        if (room != _room || humidity != _humidity)
            (_room, _humidity, _inTrap) = (room, humidity, InTrap(room, humidity));
        _millilitres += cubicMetres * _inTrap;
        _cubicMetres += cubicMetres;
    }

    private double InTrap(double room, double humidity)
    {
        var inTank = Condensate.PerCubicMetre(room, humidity, options.CompressedToKilopascals, room + options.TankAboveRoomCelsius);
        return !options.KeptInTank ? inTank
            : Condensate.PerCubicMetre(room, humidity, options.CompressedToKilopascals, room) - inTank;
    }
}
