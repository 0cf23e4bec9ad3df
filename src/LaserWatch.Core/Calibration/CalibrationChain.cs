namespace LaserWatch.Calibration;

/// <summary>Steps applied one after the other, such as counts to ohms to degrees. An empty chain changes nothing.</summary>
public sealed class CalibrationChain
{
    public static readonly CalibrationChain Empty = new([]);

    private readonly CalibrationStep[] _steps;

    /// <remarks>Does not check the steps: ask <see cref="Mistakes"/> first.</remarks>
    public CalibrationChain(IEnumerable<CalibrationStep> steps) => _steps = [.. steps];

    public bool IsEmpty => _steps.Length == 0;

    /// <summary>The unit the first step must be fed; null where it takes any, or there is none.</summary>
    public string? RawUnit => IsEmpty ? null : _steps[0].RawUnit;

    /// <summary>The unit of the last step's result; null where only the one who wrote the chain knows it.</summary>
    public string? ValueUnit => IsEmpty ? null : _steps[^1].ValueUnit;

    /// <summary>Applies every step in order; the first fault ends it.</summary>
    public bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        value = raw;
        fault = CalibrationFault.None;
        if (!double.IsFinite(raw))
        {
            value = 0;
            fault = CalibrationFault.NotFinite;
            return false;
        }

        foreach (var step in _steps)
        {
            if (!step.TryApply(value, out value, out fault))
                return false;
        }

        return true;
    }

    /// <summary>What is wrong with steps in a row, each mistake with the number of its step (from 1).</summary>
    public static IEnumerable<string> Mistakes(IReadOnlyList<CalibrationStep> steps)
    {
        for (var i = 0; i < steps.Count; i++)
        {
            foreach (var mistake in steps[i].Mistakes())
                yield return $"step {i + 1}: {mistake}";
            if (i > 0 && steps[i].RawUnit is { } wanted && steps[i - 1].ValueUnit is { } given && wanted != given)
                yield return $"step {i + 1} takes {wanted}, but step {i} gives {given}: put a step between them that converts, or change their order";
        }
    }
}
