using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>Makes up the working days of a small shop.</summary>
public static class WorkPlan
{
    /// <summary>Monday to Friday, eight to five with an hour at noon: run after run of the jobs, with breaks between.</summary>
    /// <param name="firstDay">Midnight (UTC) of the first day.</param>
    public static IEnumerable<PlannedShift> Weekdays(
        int seed, Instant firstDay, int days, IReadOnlyList<JobRecord> jobs, bool announced = true)
    {
        var noise = new SeededNoise(seed);
        for (var day = 0; day < days; day++)
        {
            var midnight = firstDay + TimeSpan.FromDays(day);
            if (midnight.ToDateTimeOffset().DayOfWeek is DayOfWeek.Saturday or DayOfWeek.Sunday)
                continue;
            yield return Shift(noise, midnight + TimeSpan.FromHours(8), midnight + TimeSpan.FromHours(17), jobs, announced);
        }
    }

    private static PlannedShift Shift(SeededNoise noise, Instant on, Instant off, IReadOnlyList<JobRecord> jobs, bool announced)
    {
        List<PlannedRun> runs = [];
        var noon = on + TimeSpan.FromHours(4);
        var start = on + TimeSpan.FromSeconds((int)noise.Uniform(300, 1500));
        while (true)
        {
            var duration = TimeSpan.FromSeconds((int)noise.Uniform(120, 1500));
            if (start < noon && start + duration > noon)
                start = noon + TimeSpan.FromMinutes(60);
            if (start + duration > off - TimeSpan.FromMinutes(5))
                return new PlannedShift(on, off, runs);
            var job = jobs[Math.Min(jobs.Count - 1, (int)noise.Uniform(0, jobs.Count))];
            runs.Add(new PlannedRun(job, start, duration, announced));
            start = start + duration + TimeSpan.FromSeconds((int)noise.Uniform(40, 900));
        }
    }
}
