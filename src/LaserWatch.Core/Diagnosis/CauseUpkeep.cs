using System.Globalization;

namespace LaserWatch.Diagnosis;

/// <summary>What the service log says for or against a cause.</summary>
internal sealed record CauseUpkeep(double Factor, string Says)
{
    /// <summary>Null where the log says nothing of the cause's parts.</summary>
    public static CauseUpkeep? Of(Cause cause, IReadOnlyList<ServedPart> served, double beamHoursADay)
    {
        var own = cause.Wear is { } wear ? Newest(served, wear.Parts) : null;
        var factor = own is null ? 1 : cause.Wear!.Factor(Hours(own, beamHoursADay));
        var says = own is null ? null : $"{own.Part} {own.Action} {Ago(own)} ago";
        if (cause.Disturbance is { } disturbance && Newest(served, disturbance.By) is { } work
            && !(Newest(served, disturbance.Settled) is { } settled && settled.Days <= work.Days))
        {
            var stirred = disturbance.Factor(Hours(work, beamHoursADay));
            factor *= stirred;
            if (stirred > 1.25)
                says = $"{work.Part} {work.Action} {Ago(work)} ago" + (disturbance.Settled.Count > 0 ? $", and no {disturbance.Settled[0]} since" : "");
        }

        return says is null ? null : new(factor, says);
    }

    private static ServedPart? Newest(IReadOnlyList<ServedPart> served, IReadOnlyList<string> parts) =>
        served.Where(s => parts.Contains(s.Part, StringComparer.OrdinalIgnoreCase)).MinBy(s => s.Days);

    private static double Hours(ServedPart served, double beamHoursADay) => served.BeamHours ?? (served.Days * beamHoursADay);

    private static string Ago(ServedPart served) => served.BeamHours is { } hours
        ? string.Create(CultureInfo.InvariantCulture, $"{hours:0.#} beam hours")
        : string.Create(CultureInfo.InvariantCulture, $"{served.Days:0.#} days");
}
