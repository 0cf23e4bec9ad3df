namespace LaserWatch.Evaluation.OpenData;

/// <summary>Point-wise score: every sample is one judgement.</summary>
internal sealed class PointScore
{
    private long _truePositives, _falsePositives, _trueNegatives, _falseNegatives;

    public double F1 => 2.0 * _truePositives / Math.Max((2 * _truePositives) + _falsePositives + _falseNegatives, 1);

    /// <summary>Share of good samples called bad, %.</summary>
    public double FalseAlarmPercent => 100.0 * _falsePositives / Math.Max(_falsePositives + _trueNegatives, 1);

    /// <summary>Share of bad samples called good, %.</summary>
    public double MissedAlarmPercent => 100.0 * _falseNegatives / Math.Max(_falseNegatives + _truePositives, 1);

    public void Take(bool isFault, bool isAlarm)
    {
        switch (isFault, isAlarm)
        {
            case (true, true):
                _truePositives++;
                break;
            case (true, false):
                _falseNegatives++;
                break;
            case (false, true):
                _falsePositives++;
                break;
            default:
                _trueNegatives++;
                break;
        }
    }
}
