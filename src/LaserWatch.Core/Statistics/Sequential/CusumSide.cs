namespace LaserWatch.Statistics;

/// <summary>Which limit of a two-sided chart is passed; <c>default</c> is neither.</summary>
public enum CusumSide
{
    None,

    /// <summary>The mean has risen.</summary>
    Upper,

    /// <summary>The mean has fallen.</summary>
    Lower,
}
