using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>One judged stretch: how far the loop's resting point seemed to have moved, and what it worked at meanwhile.</summary>
/// <param name="Blocks">Five-minute blocks in it.</param>
/// <param name="Shift">Kelvins, noisy.</param>
/// <param name="AboveRoom">Coolant less room, kelvins.</param>
/// <param name="Load">Share of full load.</param>
/// <param name="Swing">Greatest less least coolant temperature in a block, kelvins.</param>
internal readonly record struct DriftPoint(Instant At, double Blocks, double Shift, double AboveRoom, double Load, double Swing);

/// <summary>What was judged lately block by block, and before that in half hours, for some 160 h of use.</summary>
internal sealed class DriftHistory
{
    private const int Fields = 6;
    private const int Lately = 48;
    private const int Merged = 6;
    private const int Before = 320;

    private double[] _lately = new double[Lately * Fields];
    private double[] _before = [];
    private int _latelyCount;
    private int _beforeCount;

    public int Count => _beforeCount + _latelyCount;

    /// <summary>Oldest first.</summary>
    public DriftPoint this[int index]
    {
        get
        {
            var (from, place) = index < _beforeCount ? (_before, index) : (_lately, index - _beforeCount);
            var p = from.AsSpan(place * Fields, Fields);
            return new DriftPoint(Instant.FromUnixSeconds(p[0]), p[1], p[2], p[3], p[4], p[5]);
        }
    }

    public void Add(in DriftPoint point)
    {
        if (_latelyCount == Lately)
            Merge();
        var p = _lately.AsSpan(_latelyCount * Fields, Fields);
        (p[0], p[1], p[2], p[3], p[4], p[5]) =
            (point.At.UnixNanoseconds * 1e-9, point.Blocks, point.Shift, point.AboveRoom, point.Load, point.Swing);
        _latelyCount++;
    }

    public void Clear() => (_latelyCount, _beforeCount) = (0, 0);

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _lately);
        state.Walk(ref _before);
        state.Walk(ref _latelyCount);
        state.Walk(ref _beforeCount);
        if (state.IsLoading && (_lately.Length != Lately * Fields || _before.Length > Before * Fields
            || _latelyCount is < 0 or > Lately || _beforeCount < 0 || _beforeCount * Fields > _before.Length))
            StateVisitor.Refuse();
    }

    private void Merge()
    {
        if (_beforeCount == Before)
        {
            Array.Copy(_before, Fields, _before, 0, (Before - 1) * Fields);
            _beforeCount--;
        }

        // By and by: a hundred hours of use are a long time to pay for at once.
        if (_beforeCount * Fields == _before.Length)
            Array.Resize(ref _before, Math.Min(Math.Max(2 * _before.Length, 16 * Fields), Before * Fields));
        var into = _before.AsSpan(_beforeCount * Fields, Fields);
        into.Clear();
        for (var i = 0; i < Merged; i++)
        {
            for (var j = 0; j < Fields; j++)
                into[j] += _lately[(i * Fields) + j] / (j == 1 ? 1 : Merged);
        }

        _beforeCount++;
        Array.Copy(_lately, Merged * Fields, _lately, 0, (Lately - Merged) * Fields);
        _latelyCount -= Merged;
    }
}
