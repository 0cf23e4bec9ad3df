namespace LaserWatch.Monitoring;

/// <summary>Lets rules judge on through a span that is to teach them nothing: what they had learned is put by at its begin and taken up at its end.</summary>
/// <remarks>To the rules it is then as if the machine had been off meanwhile. Alarms are not part of it: they are raised and end as ever.</remarks>
/// <param name="visit">Walks what is learned.</param>
internal sealed class LearningPause(Action<StateVisitor> visit)
{
    private byte[] _before = [];

    public bool IsOn => _before.Length > 0;

    /// <summary>Time is now within such a span, or not; true where what was learned before has just been taken up again.</summary>
    public bool Follow(bool leavesOut)
    {
        if (leavesOut == IsOn)
            return false;
        if (leavesOut)
        {
            _before = StateVisitor.Save(visit);
            return false;
        }

        // It was written by this very program: that it cannot be read is a bug, and a state half loaded must not go on.
        if (!StateVisitor.TryLoad(_before, visit))
            throw new InvalidStateException("What was learned before an annotated span cannot be taken up again.");
        _before = [];
        return true;
    }

    /// <summary>What was learned has been thrown away within the span, as after a new tube: it is not to come back.</summary>
    public void Renew()
    {
        if (IsOn)
            _before = StateVisitor.Save(visit);
    }

    /// <summary>Where the clock that stamps the samples is shifted, what was put by is not: it is let go, and learning goes on.</summary>
    public void Visit(StateVisitor state)
    {
        var before = state.IsShifting ? [] : _before;
        state.Walk(ref before);
        if (state.IsLoading)
            _before = before;
    }
}
