using LaserWatch.Telemetry;

namespace LaserWatch.Alarms;

/// <summary>How often one alarm was annunciated.</summary>
/// <param name="Share">Of all annunciations of the time, 0 to 1.</param>
/// <param name="Chattered">Three annunciations or more within a minute, at least once.</param>
public readonly record struct AlarmFrequency(string Machine, string Condition, int Annunciations, double Share, bool Chattered);

/// <summary>How often alarms went into a state that silences them, and how many are in it at the end.</summary>
public readonly record struct Silenced(int Times, int AtEnd);

/// <summary>What an alarm system did in a time: counts and rates, before anything is judged.</summary>
/// <remarks>
/// An annunciation is a change to unacknowledged. Days, hours and ten minutes are those of UTC, except <see cref="GreatestTenMinutes"/>,
/// which is of any ten minutes. Averages and percentages are of the time covered: the days, hours and ten minutes in which a sample
/// or a transition is stored, by whole hours.
/// </remarks>
/// <param name="CoveredDays">UTC days of which at least one hour is covered.</param>
/// <param name="MostFrequent">Ten at most, the most frequent first.</param>
/// <param name="Chattering">Alarms annunciated three times or more within a minute.</param>
/// <param name="Fleeting">Alarms that ended by themselves, unacknowledged, within <see cref="AlarmPerformance.FleetingWithin"/>.</param>
/// <param name="StaleAtEnd">Alarms that stand at the end, in alarm for more than a day without a break.</param>
/// <param name="StaleGreatest">The most that were so on any one day.</param>
/// <param name="ByPriority">Annunciations, from low to urgent.</param>
/// <param name="AcknowledgedAfter">From the first annunciation that nobody had seen yet, in order of length.</param>
/// <param name="Waiting">Alarms that nobody has acknowledged at the end.</param>
public sealed record AlarmFigures(
    Instant From, Instant To, int CoveredDays, int CoveredHours, int Hours, int Annunciations, int DifferentAlarms,
    int GreatestDay, int GreatestHour, int GreatestTenMinutes, int HoursOver30, int TenMinutesOver10,
    int Floods, TimeSpan InFlood, int Chattering, int Fleeting, int StaleAtEnd, int StaleGreatest,
    IReadOnlyList<int> ByPriority, IReadOnlyList<AlarmFrequency> MostFrequent, IReadOnlyList<TimeSpan> AcknowledgedAfter, int Waiting,
    Silenced Shelved, Silenced OutOfService, Silenced SuppressedByDesign)
{
    public double? PerDay => Ratio(Annunciations, CoveredDays);

    public double? PerHour => Ratio(Annunciations, CoveredHours);

    public double? PerTenMinutes => Ratio(Annunciations, CoveredHours * 6);

    /// <summary>Percent of the covered hours with more than 30 annunciations.</summary>
    public double? PercentHoursOver30 => Ratio(100.0 * HoursOver30, CoveredHours);

    /// <summary>Percent of the covered ten minutes with more than 10 annunciations.</summary>
    public double? PercentTenMinutesOver10 => Ratio(100.0 * TenMinutesOver10, CoveredHours * 6);

    public double? PercentInFlood => Ratio(100 * InFlood.TotalHours, CoveredHours);

    /// <summary>Share of the ten most frequent in all annunciations, in percent.</summary>
    public double? PercentOfTenMostFrequent => Ratio(100.0 * MostFrequent.Sum(a => a.Annunciations), Annunciations);

    public double? PercentOf(AlarmPriority priority) => Ratio(100.0 * ByPriority[(int)priority], Annunciations);

    /// <summary>The time within which the fraction was acknowledged, by nearest rank; null where none was.</summary>
    public TimeSpan? AcknowledgedWithin(double fraction) =>
        AcknowledgedAfter.Count == 0 ? null : AcknowledgedAfter[Math.Max(0, (int)Math.Ceiling(fraction * AcknowledgedAfter.Count) - 1)];

    private static double? Ratio(double part, int whole) => whole == 0 ? null : part / whole;
}
