using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Life;

/// <summary>How old the tube is, as far as log, configuration and hour meter tell.</summary>
/// <param name="Installed">When it was put in; null: nobody said.</param>
/// <param name="Hours">Beam hours it has seen for sure.</param>
/// <param name="HoursAtMost">Beam hours it may have seen, if the hour meter has counted nothing but this tube.</param>
/// <param name="Months">Since it was put in, of 30.4375 days; null: not known.</param>
/// <param name="Method">How the hours were found, in words.</param>
public readonly record struct TubeAge(Instant? Installed, string? Serial, double Hours, double HoursAtMost, double? Months, string Method)
{
    public const double DaysPerMonth = 30.4375;

    internal static TubeAge Of(ServiceLedger ledger, TubeLifeOptions options, Instant now)
    {
        var logged = ledger.TubeInstalled;
        var byLog = logged is not null && !(options.Installed > logged.Value.At);
        if ((byLog ? logged!.Value.At : options.Installed) is not { } installed || ledger.Began is not { } began)
        {
            return ledger.Meter is { } reads
                ? new(null, null, 0, Math.Max(reads, ledger.BeamHours), null, "hour meter; nobody said when the tube was put in")
                : new(null, null, 0, ledger.BeamHours, null, "beam seen by the watch; nobody said when the tube was put in");
        }

        var serial = byLog ? logged!.Value.Serial : null;
        var months = Math.Max(0, now.SecondsSince(installed) / 86_400 / DaysPerMonth);
        var counted = ledger.BeamHoursSince(installed);
        if (!byLog && options.MeterAtInstallHours is { } first && ledger.Meter is { } meter && meter >= first)
        {
            var hours = Math.Max(meter - first, counted);
            return new(installed, serial, hours, hours, months, "hour meter since the tube was put in");
        }

        // What the watch did not see: no more than the meter shows, nor than there were hours.
        var unseen = Math.Max(0, began.SecondsSince(installed) / 3600);
        var atMost = ledger.Meter is { } shown ? Math.Max(counted, Math.Min(shown, counted + unseen)) : counted;
        return new(installed, serial, counted, atMost, months, unseen > 0 ? "beam counted since the watch began, after the tube was put in" : "beam counted since the tube was put in");
    }
}
