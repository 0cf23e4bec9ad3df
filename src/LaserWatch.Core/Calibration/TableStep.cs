namespace LaserWatch.Calibration;

/// <summary>One row of a calibration table.</summary>
public sealed record TablePoint
{
    /// <summary>What the sensor sends.</summary>
    public double Raw { get; init; }

    /// <summary>What it is worth, in the unit the table is to give.</summary>
    public double Value { get; init; }
}

/// <summary>Straight lines between the points of a table, in rising order of raw.</summary>
public sealed record TableStep : CalibrationStep
{
    public const int MostPoints = 1000;

    /// <summary>The rows of the table, 2 to 1000.</summary>
    public IReadOnlyList<TablePoint> Points { get; init; } = [];

    /// <summary>
    /// Beyond its ends the table gives the value of the end (true), or no value (false, the default): a sensor that left its
    /// calibrated range is not to be trusted, and a clamped one looks stuck.
    /// </summary>
    public bool ClampEnds { get; init; }

    public override bool TryApply(double raw, out double value, out CalibrationFault fault)
    {
        var low = 0;
        var high = Points.Count - 1;
        if (high < 0)
            return Bad(CalibrationFault.OutsideTable, out value, out fault);
        if (raw < Points[low].Raw)
            return BeyondEnd(Points[low], out value, out fault);
        if (raw > Points[high].Raw)
            return BeyondEnd(Points[high], out value, out fault);

        while (high - low > 1)
        {
            var middle = (low + high) / 2;
            if (raw < Points[middle].Raw)
                high = middle;
            else
                low = middle;
        }

        var (a, b) = (Points[low], Points[high]);
        if (raw == a.Raw)
            return Good(a.Value, out value, out fault);
        if (raw == b.Raw)
            return Good(b.Value, out value, out fault);
        return Good(a.Value + ((raw - a.Raw) / (b.Raw - a.Raw) * (b.Value - a.Value)), out value, out fault);
    }

    public override IEnumerable<string> Mistakes()
    {
        if (Points.Count is < 2 or > MostPoints)
        {
            yield return $"points has {Points.Count} rows: give 2 to {MostPoints}";
            yield break;
        }

        for (var i = 0; i < Points.Count; i++)
        {
            if (!double.IsFinite(Points[i].Raw) || !double.IsFinite(Points[i].Value))
                yield return $"points[{i}]: raw and value must be finite numbers";
            else if (i > 0 && Points[i].Raw == Points[i - 1].Raw)
                yield return $"points[{i}]: raw {Points[i].Raw} stands twice: remove one of the rows";
            else if (i > 0 && Points[i].Raw < Points[i - 1].Raw)
                yield return $"points[{i}]: raw {Points[i].Raw} comes after {Points[i - 1].Raw}: sort the rows by rising raw";
        }
    }

    private bool BeyondEnd(TablePoint end, out double value, out CalibrationFault fault) =>
        ClampEnds ? Good(end.Value, out value, out fault) : Bad(CalibrationFault.OutsideTable, out value, out fault);
}
