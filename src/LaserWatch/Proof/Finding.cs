using LaserWatch.Payloads;
using LaserWatch.Rules;

namespace LaserWatch.Proof;

/// <summary>One thing that is not as it was sealed.</summary>
/// <param name="Day">The UTC day; null where it concerns the whole.</param>
/// <param name="Minute">The minute's begin, RFC 3339; null where it is not one minute.</param>
/// <param name="Channel">The channel; null for events and the whole.</param>
/// <param name="What">One of <see cref="FindingKinds"/>.</param>
/// <param name="Words">In plain words.</param>
/// <param name="FirstLine">The first line of the file that it concerns, from 1; null where none is there or known.</param>
/// <param name="LastLine">The last such line.</param>
/// <param name="Section">The section of a report, by its id; null in recordings.</param>
public sealed record Finding(
    DateOnly? Day, string? Minute, string? Channel, string What, string Words, long? FirstLine = null, long? LastLine = null, string? Section = null)
{
    public override string ToString()
    {
        var place = string.Join(", ", new[] { Section is null ? null : $"section {Section}", Minute ?? Day?.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture), Channel, Lines() }.OfType<string>());
        // It quotes the file, and a line of somebody's making must not pass for one of ours.
        return PayloadText.Clean(place.Length == 0 ? Words : $"{place}: {Words}", 1000);
    }

    private string? Lines() => FirstLine is null ? null : FirstLine == LastLine || LastLine is null ? $"line {FirstLine}" : $"lines {FirstLine} to {LastLine}";
}

/// <summary>What a finding is, in one word for programs.</summary>
public static class FindingKinds
{
    public const string Missing = "missing";
    public const string Added = "added";
    public const string Altered = "altered";

    /// <summary>The proof itself is not as it was made.</summary>
    public const string Proof = "proof";

    /// <summary>Key or signature is not what it should be.</summary>
    public const string Signature = "signature";
}
