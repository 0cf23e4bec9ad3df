using LaserWatch.Alarms;

namespace LaserWatch.Cli;

/// <summary>How often each alarm of each machine was raised, and what state it ended in.</summary>
public sealed class AlarmTally
{
    private readonly SortedDictionary<(string Machine, string Condition), Line> _lines = [];

    public IEnumerable<Line> Lines => _lines.Values;

    public void Count(AlarmChange change)
    {
        if (!_lines.TryGetValue((change.Machine, change.Condition), out var line))
            _lines.Add((change.Machine, change.Condition), line = new Line(change.Machine, change.Condition));
        line.Count(change);
    }

    public sealed class Line(string machine, string condition)
    {
        public string Machine { get; } = machine;

        public string Condition { get; } = condition;

        /// <summary>Times it went to unacknowledged from a state in which it did not stand.</summary>
        public int Raised { get; private set; }

        public int Transitions { get; private set; }

        public AlarmPriority Highest { get; private set; }

        public AlarmChange? FirstRaised { get; private set; }

        public AlarmState State { get; private set; }

        internal void Count(AlarmChange change)
        {
            Transitions++;
            if (change.State == AlarmState.Unacknowledged && State is not (AlarmState.Unacknowledged or AlarmState.Acknowledged))
            {
                Raised++;
                FirstRaised ??= change;
            }

            if (change.State == AlarmState.Unacknowledged && change.Priority > Highest)
                Highest = change.Priority;
            State = change.State;
        }
    }
}
