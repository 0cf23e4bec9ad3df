using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>The shift that explains the loop's prediction errors since some block, and how sure it is.</summary>
/// <remarks>Each error weighs by how much of the shift it should show: all of it under a chiller, in proportion to a sound loop's rise above the room under a radiator.</remarks>
internal sealed class ErrorStretch
{
    private double[] _row = new double[LoopModel.Size];
    private double _error, _outside, _weight;
    private int _count;
    private Instant _from;

    public int Count => _count;

    public Instant From => _from;

    /// <summary>Shift of the resting point, under a radiator at full work, in kelvins.</summary>
    public double Shift(LoopModel model) => _weight <= 0 ? 0 : _error / _weight / model.Gain;

    /// <summary>Its standard error, in kelvins.</summary>
    /// <remarks>What the parameters do not know is the same in every error of the stretch, so it does not average out.</remarks>
    public double Error(LoopModel model)
    {
        if (_weight <= 0)
            return 0;
        Span<double> row = stackalloc double[LoopModel.Size];
        for (var i = 0; i < row.Length; i++)
            row[i] = _row[i] / _weight;
        return Math.Sqrt((model.LongRunVariance / _weight) + model.Spread(row)) / model.Gain;
    }

    /// <summary>What a room or load outside all experience leaves open, in kelvins.</summary>
    public double Outside => _weight <= 0 ? 0 : _outside / _weight;

    /// <summary>Starts anew with a block that is not counted: what began within it shows only in part.</summary>
    public void Begin(Instant at)
    {
        Clear();
        _from = at;
    }

    /// <param name="weight">How much of a shift of 1 K the error should show, times the model's gain.</param>
    public void Add(ReadOnlySpan<double> row, double error, double outside, double weight)
    {
        for (var i = 0; i < row.Length; i++)
            _row[i] += weight * row[i];
        _error += weight * error;
        _outside += weight * outside;
        _weight += weight * weight;
        _count++;
    }

    /// <summary>Lets what is old fade, so that the next block makes it weigh no more than the given number of usual ones.</summary>
    public void Fade(double blocks, double weight)
    {
        var room = Math.Max(0, blocks - (weight * weight));
        if (_weight <= room)
            return;
        var keep = room / _weight;
        for (var i = 0; i < _row.Length; i++)
            _row[i] *= keep;
        _error *= keep;
        _outside *= keep;
        _weight *= keep;
    }

    public void Clear()
    {
        Array.Clear(_row);
        (_error, _outside, _weight, _count) = (0, 0, 0, 0);
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _row);
        state.Walk(ref _error);
        state.Walk(ref _outside);
        state.Walk(ref _weight);
        state.Walk(ref _count);
        state.Walk(ref _from);
        if (state.IsLoading && _row.Length != LoopModel.Size)
            StateVisitor.Refuse();
    }
}
