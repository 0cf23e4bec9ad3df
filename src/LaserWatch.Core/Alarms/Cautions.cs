namespace LaserWatch.Alarms;

/// <summary>The sentences that every page, report and message carries, in one place.</summary>
public static class Cautions
{
    /// <summary>Stands in the README too; a test holds the two together.</summary>
    public const string LocalCodesFirst = "Local codes and licensed practice go first.";

    public const string Advisory = "LaserWatch advises, and is no safety device. " + LocalCodesFirst;
}
