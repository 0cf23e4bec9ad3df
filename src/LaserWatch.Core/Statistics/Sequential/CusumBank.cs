using LaserWatch.Monitoring;

namespace LaserWatch.Statistics;

/// <summary>Parallel CUSUMs of one stream of standardised samples: alarm as soon as any of them does.</summary>
/// <remarks>O(members), nothing allocated.</remarks>
public sealed class CusumBank
{
    private readonly Cusum[] _members;

    public CusumBank(CusumBankDesign design)
    {
        if (design.Members.Count == 0)
            throw new ArgumentOutOfRangeException(nameof(design), design, "A bank has at least one chart.");
        _members = [.. design.Members.Select(member => new Cusum(member))];
    }

    public IReadOnlyList<Cusum> Members => _members;

    /// <summary>The chart that stands nearest to its alarm, or farthest beyond it: its run says when the mean changed, its estimate how far.</summary>
    public Cusum Foremost
    {
        get
        {
            var foremost = _members[0];
            foreach (var member in _members)
                if (Height(member) > Height(foremost))
                    foremost = member;
            return foremost;
        }
    }

    /// <param name="standardised">(sample − mean in control) / standard deviation in control.</param>
    /// <returns>The side of the foremost chart, where that alarms.</returns>
    /// <exception cref="ArgumentOutOfRangeException">The sample is NaN or infinite.</exception>
    public CusumSide Update(double standardised)
    {
        var (side, height) = (CusumSide.None, 1.0);
        foreach (var member in _members)
        {
            var its = member.Update(standardised);
            if (its != CusumSide.None && Height(member) > height)
                (side, height) = (its, Height(member));
        }

        return side;
    }

    public void Reset()
    {
        foreach (var member in _members)
            member.Reset();
    }

    public void Visit(StateVisitor visitor)
    {
        foreach (var member in _members)
            member.Visit(visitor);
    }

    private static double Height(Cusum chart) => Math.Max(chart.Upper, chart.Lower) / chart.Design.DecisionInterval;
}
