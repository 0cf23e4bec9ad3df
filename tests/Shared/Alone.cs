namespace LaserWatch;

/// <summary>Tests that would be disturbed by others running beside them, such as those that look at the memory of the process.</summary>
[CollectionDefinition(Name, DisableParallelization = true)]
public sealed class Alone
{
    public const string Name = "alone";
}
