namespace LaserWatch.Configuration;

/// <summary>What the keys of a dictionary may look like.</summary>
/// <param name="pattern">A regular expression that both .NET and ECMA-262 understand.</param>
/// <param name="rule">The same in words.</param>
[AttributeUsage(AttributeTargets.Property)]
public sealed class KeyPatternAttribute(string pattern, string rule) : Attribute
{
    public string Pattern { get; } = pattern;

    public string Rule { get; } = rule;
}
