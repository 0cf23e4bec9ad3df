namespace LaserWatch.Telemetry;

/// <summary>The name of a machine: <c>[a-z0-9-]{1,32}</c>.</summary>
public static class MachineName
{
    public const string Rule = "1 to 32 of a-z, 0-9 and '-'";

    public static bool IsValid(ReadOnlySpan<char> name)
    {
        if (name.Length is 0 or > 32)
            return false;
        foreach (var c in name)
        {
            if (!char.IsAsciiDigit(c) && c is not ((>= 'a' and <= 'z') or '-'))
                return false;
        }

        return true;
    }
}
