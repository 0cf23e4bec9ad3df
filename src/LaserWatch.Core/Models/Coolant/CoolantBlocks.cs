using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>Means over some minutes: temperatures in °C, load as a share of full load.</summary>
/// <param name="BeamShare">Share of the time with the beam on.</param>
/// <param name="Swing">Greatest less least coolant temperature within it, in kelvins.</param>
/// <param name="Picture">The load is that of a picture's sweep and not known: an engraving whose tube current is not measured.</param>
internal readonly record struct CoolantBlock(
    Instant From, Instant To, double Coolant, double Room, double Load, double BeamShare, double Swing, HeatLoadKind Kind, bool Picture)
{
    public static void Visit(StateVisitor state, ref CoolantBlock? block)
    {
        var known = block.HasValue;
        state.Walk(ref known);
        if (!known)
        {
            block = null;
            return;
        }

        var (from, to, coolant, room, load, beam, swing, kind, picture) = block ?? default;
        state.Walk(ref from);
        state.Walk(ref to);
        state.Walk(ref coolant);
        state.Walk(ref room);
        state.Walk(ref load);
        state.Walk(ref beam);
        state.Walk(ref swing);
        state.Walk(ref kind);
        state.Walk(ref picture);
        block = new CoolantBlock(from, to, coolant, room, load, beam, swing, kind, picture);
    }
}

/// <summary>Gathers samples into means of five minutes, weighted by time.</summary>
internal sealed class CoolantBlocks
{
    public const double Seconds = 300;

    private const double LongestStep = 120;
    private const double PictureShare = 0.2;

    private Instant? _start;
    private Instant _last;
    private double _seconds, _coolant, _room, _load, _beam, _picture;
    private double _least, _greatest;
    private HeatLoadKind _kind;

    /// <summary>True when a block was closed. A gap of more than two minutes throws the open block away.</summary>
    public bool Take(Reading reading, int channel, HeatLoad heat, out CoolantBlock block, out bool gap)
    {
        block = default;
        var at = reading.TimeOf(channel);
        var step = _start is null ? 0 : at.SecondsSince(_last);
        var (load, kind) = heat;
        gap = _start is null || step is > LongestStep or < 0;
        if (gap)
        {
            Begin(at, kind);
            step = 0;
        }

        _last = at;
        var weight = Math.Max(step, 1e-3);
        var celsius = reading[channel];
        _seconds += weight;
        _coolant += weight * celsius;
        _room += weight * reading[CanonicalIndex.AmbientTemperature];
        _load += weight * load;
        _beam += reading.BeamOn == true ? weight : 0;
        _picture += reading.Run is { IsRaster: true } ? weight : 0;
        _least = Math.Min(_least, celsius);
        _greatest = Math.Max(_greatest, celsius);
        if (kind != _kind)
            _kind = HeatLoadKind.None;
        if (at.SecondsSince(_start!.Value) < Seconds)
            return false;

        block = new CoolantBlock(
            _start.Value, at, _coolant / _seconds, _room / _seconds, _load / _seconds, _beam / _seconds, _greatest - _least, _kind,
            _kind != HeatLoadKind.Current && _picture > PictureShare * _seconds);
        Begin(at, kind);
        return true;
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _start);
        state.Walk(ref _last);
        state.Walk(ref _seconds);
        state.Walk(ref _coolant);
        state.Walk(ref _room);
        state.Walk(ref _load);
        state.Walk(ref _beam);
        state.Walk(ref _picture);
        state.Walk(ref _least);
        state.Walk(ref _greatest);
        state.Walk(ref _kind);
    }

    private void Begin(Instant at, HeatLoadKind kind)
    {
        _start = at;
        (_seconds, _coolant, _room, _load, _beam, _picture) = (0, 0, 0, 0, 0, 0);
        (_least, _greatest) = (double.PositiveInfinity, double.NegativeInfinity);
        _kind = kind;
    }
}
