using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>Which entries of the service log change what is normal for the coolant loop.</summary>
/// <remarks>Parts and actions are open sets: any word of the loop counts, and any action that is more than a look.</remarks>
internal static class LoopUpkeep
{
    private static readonly string[] Parts = ["radiator", "chiller", "cool", "pump", "water", "reservoir", "tank", "hose", "fan", "heat-exchanger", "flow-sensor"];
    private static readonly string[] OtherPlants = ["exhaust", "extract", "air", "trap", "compressor"];
    private static readonly HashSet<string> Looks = new(StringComparer.OrdinalIgnoreCase) { "checked", "inspected", "looked-at", "measured", "noted" };

    public static bool ChangesTheLoop(ServiceEvent service) =>
        Names(service.Part, Parts) && !Names(service.Part, OtherPlants) && !Looks.Contains(service.Action);

    private static bool Names(string part, string[] words)
    {
        foreach (var word in words)
        {
            if (part.Contains(word, StringComparison.OrdinalIgnoreCase))
                return true;
        }

        return false;
    }
}
