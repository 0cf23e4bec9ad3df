using System.Globalization;
using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>What the rules of the tube's current lack, in words.</summary>
internal static class TubeLacks
{
    public static IReadOnlyList<string> Of(Reading reading, TubeHealth health)
    {
        List<string> lacks = [];
        if (reading.Lack(Channel.TubeCurrent) is { } current)
            lacks.Add(current);
        if (!reading.Knows(CanonicalIndex.Power) && reading.Run?.Record?.Power is null)
            lacks.Add($"{Channel.Power.Name}: never heard, and no job's power is recorded");
        if (health.IsLearning)
        {
            lacks.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"the baseline is being learned: {health.Baseline.LearnedHours(health.BeamSeconds):0.0} h of beam so far, {health.Baseline.Nodes} powers"));
        }

        return lacks;
    }
}
