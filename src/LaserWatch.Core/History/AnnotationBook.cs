using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

/// <summary>The annotations of one machine that are in force, taken from its service log in any order.</summary>
public sealed class AnnotationBook
{
    /// <summary>More are not taken: a script gone mad must not fill the memory.</summary>
    public const int Most = 10_000;

    private readonly Dictionary<string, Annotation> _told = new(StringComparer.Ordinal);
    private readonly HashSet<string> _withdrawn = new(StringComparer.Ordinal);

    // Between two borders the answer is the same; samples come in the order of time.
    private Instant _sameFrom = Instant.MaxValue;
    private Instant _sameTo = Instant.MinValue;
    private bool _leavesOut;

    public static AnnotationBook Of(IEnumerable<ServiceEvent> log)
    {
        var book = new AnnotationBook();
        foreach (var service in log)
            book.Take(service);
        return book;
    }

    /// <summary>By when they begin.</summary>
    public IReadOnlyList<Annotation> InForce =>
        [.. _told.Values.Where(a => !_withdrawn.Contains(a.Id)).OrderBy(a => a.From).ThenBy(a => a.Id, StringComparer.Ordinal)];

    internal bool HasAny => _told.Count + _withdrawn.Count > 0;

    /// <summary>True where the entry was an annotation, or withdrew one.</summary>
    public bool Take(ServiceEvent service)
    {
        if (_told.Count + _withdrawn.Count >= 2 * Most)
            return false;
        if (Annotation.WithdrawnBy(service) is { } id)
            _withdrawn.Add(id);
        else if (Annotation.Of(service) is { } annotation)
            _told[annotation.Id] = annotation;
        else
            return false;
        (_sameFrom, _sameTo) = (Instant.MaxValue, Instant.MinValue);
        return true;
    }

    /// <summary>Nothing is to be learned from what was measured then.</summary>
    public bool LeavesOut(Instant at)
    {
        if (_told.Count == 0)
            return false;
        if (at >= _sameFrom && at < _sameTo)
            return _leavesOut;
        (_sameFrom, _sameTo, _leavesOut) = (Instant.MinValue, Instant.MaxValue, false);
        foreach (var annotation in _told.Values)
        {
            if (!annotation.LeavesOut || _withdrawn.Contains(annotation.Id))
                continue;
            _leavesOut |= annotation.Covers(at);
            foreach (var border in (ReadOnlySpan<Instant>)[annotation.From, annotation.To])
            {
                if (border <= at && border > _sameFrom)
                    _sameFrom = border;
                if (border > at && border < _sameTo)
                    _sameTo = border;
            }
        }

        return _leavesOut;
    }

    /// <summary>A number that is another one whenever other spans, begun by then, are left out; in which order they were told does not matter.</summary>
    public long FingerprintUntil(Instant until)
    {
        var sum = 0L;
        foreach (var annotation in _told.Values)
        {
            if (annotation.LeavesOut && annotation.From <= until && !_withdrawn.Contains(annotation.Id))
                sum ^= Mixed(annotation.From.UnixNanoseconds) + (3 * Mixed(annotation.To.UnixNanoseconds ^ 0x5bd1e995));
        }

        return sum;
    }

    // Spans are the calendar's: no shift of a sensor's clock moves them, so their times are walked as plain numbers.
    internal void Visit(StateVisitor state)
    {
        var told = _told.Values.OrderBy(a => a.Id, StringComparer.Ordinal)
            .Select(a => new Entry { Id = a.Id, Machine = a.Machine, Kind = a.Kind, From = a.From.UnixNanoseconds, To = a.To.UnixNanoseconds }).ToList();
        var withdrawn = _withdrawn.Order(StringComparer.Ordinal).Select(id => new Entry { Id = id }).ToList();
        state.Walk(told, () => new Entry(), entry => entry.Visit(state));
        state.Walk(withdrawn, () => new Entry(), entry => entry.Visit(state));
        if (!state.IsLoading)
            return;
        _told.Clear();
        _withdrawn.Clear();
        foreach (var e in told)
            _told[e.Id ?? ""] = new(e.Machine ?? "", e.Id ?? "", e.Kind, new(e.From), new(e.To), null, null, null, null);
        _withdrawn.UnionWith(withdrawn.Select(e => e.Id ?? ""));
        (_sameFrom, _sameTo) = (Instant.MaxValue, Instant.MinValue);
    }

    private sealed class Entry
    {
        public string? Id;
        public string? Machine;
        public AnnotationKind Kind;
        public long From;
        public long To;

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Id);
            state.Walk(ref Machine);
            state.Walk(ref Kind);
            state.Walk(ref From);
            state.Walk(ref To);
        }
    }

    // The finalizer of SplitMix64 (from memory): every bit of a time bears upon every bit of the sum.
    private static long Mixed(long value)
    {
        var z = (ulong)value + 0x9e3779b97f4a7c15;
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9;
        z = (z ^ (z >> 27)) * 0x94d049bb133111eb;
        return (long)(z ^ (z >> 31));
    }
}
