using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection.Coolant;

/// <summary>The mean of the loop's prediction errors since some block, and how sure it is.</summary>
internal sealed class ErrorStretch
{
    private double[] _row = new double[LoopModel.Size];
    private double _error, _outside;
    private int _count;
    private Instant _from;

    public int Count => _count;

    public Instant From => _from;

    /// <summary>Shift of the resting point, in kelvins.</summary>
    public double Shift(LoopModel model) => _count == 0 ? 0 : _error / _count / model.Gain;

    /// <summary>Its standard error, in kelvins.</summary>
    /// <remarks>What the parameters do not know is the same in every error of the stretch, so it does not average out.</remarks>
    public double Error(LoopModel model)
    {
        Span<double> row = stackalloc double[LoopModel.Size];
        for (var i = 0; i < row.Length; i++)
            row[i] = _row[i] / _count;
        return Math.Sqrt((model.LongRunVariance / _count) + model.Spread(row)) / model.Gain;
    }

    /// <summary>What a room or load outside all experience leaves open, in kelvins.</summary>
    public double Outside => _outside / _count;

    /// <summary>Starts anew with a block that is not counted: what began within it shows only in part.</summary>
    public void Begin(Instant at)
    {
        Clear();
        _from = at;
    }

    public void Add(ReadOnlySpan<double> row, double error, double outside)
    {
        for (var i = 0; i < row.Length; i++)
            _row[i] += row[i];
        _error += error;
        _outside += outside;
        _count++;
    }

    /// <summary>Lets the weight of what is old fade, so that about <paramref name="blocks"/> blocks count.</summary>
    public void Fade(int blocks)
    {
        if (_count < blocks)
            return;
        var keep = (blocks - 1.0) / _count;
        for (var i = 0; i < _row.Length; i++)
            _row[i] *= keep;
        _error *= keep;
        _outside *= keep;
        _count = blocks - 1;
    }

    public void Clear()
    {
        Array.Clear(_row);
        (_error, _outside, _count) = (0, 0, 0);
    }

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _row);
        state.Walk(ref _error);
        state.Walk(ref _outside);
        state.Walk(ref _count);
        state.Walk(ref _from);
        if (state.IsLoading && _row.Length != LoopModel.Size)
            StateVisitor.Refuse();
    }
}
