using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Monitoring;
using LaserWatch.Physics;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Rules;

public static partial class Conditions
{
    public const string WaterTrapDue = "water-trap-due";
}

/// <summary>The water trap is due to be drained, by the water that must have condensed from the air used since it last was.</summary>
/// <remarks>
/// Air used is the flow where it is measured, else what the nozzle lets through at the pressure while a run is under way. Counting begins with the
/// first drained trap that is logged: before, nobody knows whether there is a trap, or what is in it. Then one alarm stands until the next.
/// </remarks>
internal sealed class WaterTrapDue(ServiceLedger ledger, WaterTrapOptions options) : Rule(About)
{
    public static readonly RuleSheet About = new(Conditions.WaterTrapDue)
    {
        Judged = "The water that has condensed from the air used fills four fifths of a 50 mL trap. Counting begins when draining is first logged.",
        Triggers = ChannelSet.Of(Channel.AirFlow, Channel.AirPressure) | ChannelSet.Tick,
        Weights =
        [
            new(Degree.Plain, Consequence.Damage, TimeToRespond.Days, "water would reach the lens"),
        ],
        Checks =
        [
            "Let the pressure off, drain the water trap and log it (service part water-trap, action drained)",
            "With the pressure off, look at the trap's filter and at the hose after it for water",
            "Drain the compressor's tank too, unplugged and with its pressure let off as its manual says; it can start by itself",
        ],
    };

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

    public override Verdict Update(Reading reading)
    {
        if (options.AutomaticDrain)
            return new Verdict(Judgement.Normal);
        if (_worksThen != ledger.WorksEver)
            LookUp();
        var byFlow = reading.Knows(CanonicalIndex.AirFlow);
        var source = byFlow ? CanonicalIndex.AirFlow : CanonicalIndex.AirPressure;
        if (reading.IsFresh(source) && reading.Has(source))
            Take(reading, reading.TimeOf(source), byFlow);
        return _drained is null ? default : new Verdict(_millilitres >= Limit ? Judgement.Breach : Judgement.Normal, _millilitres, Limit);
    }

    public override Finding Explain(Reading reading, Verdict verdict)
    {
        if (verdict.Judgement != Judgement.Breach)
            return new Finding(PriorityOf(Degree.Plain), "mL", "the water trap was drained", [], []);
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
            PriorityOf(Degree.Plain),
            "mL",
            string.Create(CultureInfo.InvariantCulture, $"some {_millilitres:0} mL of water have condensed from the air since the trap was drained; it holds {options.TrapMillilitres:0} mL"),
            evidence,
            Checks);
    }

    public override IReadOnlyList<string> Lacks(Reading reading)
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

    public override void Visit(StateVisitor state)
    {
        state.Walk(ref _worksThen);
        state.Walk(ref _drained);
        state.Walk(ref _at);
        state.Walk(ref _millilitres);
        state.Walk(ref _cubicMetres);
        state.Walk(ref _blindCubicMetres);
    }

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
        _millilitres += cubicMetres * InTrap(room, humidity);
        _cubicMetres += cubicMetres;
    }

    private double InTrap(double room, double humidity)
    {
        var inTank = Condensate.PerCubicMetre(room, humidity, options.CompressedToKilopascals, room + options.TankAboveRoomCelsius);
        return !options.KeptInTank ? inTank
            : Condensate.PerCubicMetre(room, humidity, options.CompressedToKilopascals, room) - inTank;
    }
}
