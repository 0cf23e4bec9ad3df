using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Upkeep;

/// <summary>What was done to a machine, part by part, and how much beam there has been since.</summary>
/// <remarks>
/// Parts and actions are open sets: "Water Trap" and <c>water_trap</c> are <c>water-trap</c>. Work may be entered late and twice: the newest by its
/// own time holds. At most <see cref="MostEntries"/> pairs of part and action are remembered; beyond, the one longest ago is forgotten.
/// </remarks>
public sealed class ServiceLedger
{
    /// <summary>How many test cuts are kept.</summary>
    public const int MostTestCuts = 20;

    private const int MostEntries = 200;
    private const string TestCut = "test-cut";

    private static readonly HashSet<string> ReplacingActions = new(StringComparer.OrdinalIgnoreCase) { "replaced", "installed", "changed", "exchanged", "fitted", "new" };

    private readonly BeamHourCount _hours = new();
    private readonly List<Entry> _entries = [];
    private readonly List<Cut> _cuts = [];
    private int _worksEver;

    /// <summary>How many entries of the log the watch has been told; a sign that something has changed.</summary>
    public int WorksEver => _worksEver;

    /// <summary>When the watch began to count; null before its first sample.</summary>
    public Instant? Began => _hours.Began;

    /// <summary>Beam hours since <see cref="Began"/>.</summary>
    public double BeamHours => _hours.Since(default);

    /// <summary>Beam hours counted since a moment, by the day; since <see cref="Began"/> where that is later.</summary>
    public double BeamHoursSince(Instant moment) => _hours.Since(_hours.At(moment));

    /// <summary>What the machine's own hour meter shows, h; null where none was heard. It need not have begun with this tube.</summary>
    public double? Meter => _hours.Meter;

    /// <summary>The newest work at each part, in order of the parts' names.</summary>
    public IReadOnlyList<PartUpkeep> Parts =>
        [.. _entries.Select(e => e.Part).Distinct().Order(StringComparer.Ordinal).Select(part => Of(part)!.Value)];

    /// <summary>When the tube now in was put in, by the log; null where the log does not say.</summary>
    public PartUpkeep? TubeInstalled => Replaced("tube");

    /// <summary>The last <see cref="MostTestCuts"/> test cuts with all their fields, oldest first.</summary>
    public IReadOnlyList<ServiceEvent> TestCuts => [.. _cuts.Select(c => c.Event!)];

    /// <summary>The action means that another part is in now.</summary>
    public static bool Replaces(string action) => ReplacingActions.Contains(action);

    /// <summary>The newest work at a part, of whatever kind; null where the log has none.</summary>
    public PartUpkeep? Of(string part) => Newest(part, static (_, _) => true, "");

    /// <summary>The newest work of one kind at a part; null where the log has none.</summary>
    public PartUpkeep? Of(string part, string action) =>
        Newest(part, static (entry, wanted) => entry.Action == wanted, Normal(action));

    /// <summary>The newest replacement of a part; null where the log has none.</summary>
    public PartUpkeep? Replaced(string part) => Newest(part, static (entry, _) => Replaces(entry.Action), "");

    internal void Observe(ServiceEvent service)
    {
        var (part, action) = (Normal(service.Part), Normal(service.Action));
        if (part == TestCut)
            Keep(service);
        var entry = _entries.Find(e => e.Part == part && e.Action == action);
        if (entry is not null && entry.At > service.At)
            return;
        if (entry is null)
        {
            if (_entries.Count == MostEntries)
                _entries.Remove(_entries.MinBy(e => e.At)!);
            _entries.Add(entry = new Entry { Part = part, Action = action });
        }

        _worksEver++;
        // Told again at the same time: where the counts stood then does not change.
        if (entry.At != service.At)
            entry.Stand = _hours.At(service.At);
        (entry.At, entry.Serial, entry.Note) = (service.At, service.Serial, service.Note);
    }

    internal void Follow(Instant at, bool beamOn) => _hours.Follow(at, beamOn);

    internal void ReadMeter(Instant at, double hours) => _hours.ReadMeter(at, hours);

    internal void Visit(StateVisitor state)
    {
        _hours.Visit(state);
        state.Walk(ref _worksEver);
        state.Walk(_entries, () => new Entry(), entry => entry.Visit(state));
        state.Walk(_cuts, () => new Cut(), cut => cut.Visit(state));
    }

    private static string Normal(string name)
    {
        foreach (var letter in name)
        {
            if (letter is '_' or ' ' || char.IsUpper(letter))
                return name.Trim().ToLowerInvariant().Replace('_', '-').Replace(' ', '-');
        }

        return name;
    }

    private PartUpkeep? Newest(string part, Func<Entry, string, bool> fits, string wanted)
    {
        var name = Normal(part);
        Entry? newest = null;
        foreach (var entry in _entries)
        {
            if (entry.Part == name && fits(entry, wanted) && (newest is null || entry.At > newest.At))
                newest = entry;
        }

        return newest is null ? null : new PartUpkeep(newest.Part, newest.Action, newest.At, _hours.Since(newest.Stand), newest.Serial, newest.Note);
    }

    private void Keep(ServiceEvent cut)
    {
        var place = _cuts.FindIndex(c => c.Event!.At >= cut.At);
        if (place >= 0 && _cuts[place].Event!.At == cut.At)
        {
            _cuts[place].Event = cut;
            return;
        }

        _cuts.Insert(place < 0 ? _cuts.Count : place, new Cut { Event = cut });
        if (_cuts.Count > MostTestCuts)
            _cuts.RemoveAt(0);
    }

    private sealed class Entry
    {
        public string Part = "";
        public string Action = "";
        public Instant At = Instant.MinValue;
        public string? Serial;
        public string? Note;
        public BeamHourCount.Stand Stand;

        public void Visit(StateVisitor state)
        {
            var (part, action, own, metered) = ((string?)Part, (string?)Action, Stand.Own, Stand.Metered);
            state.Walk(ref part);
            state.Walk(ref action);
            state.Walk(ref At);
            state.Walk(ref Serial);
            state.Walk(ref Note);
            state.Walk(ref own);
            state.Walk(ref metered);
            (Part, Action, Stand) = (part ?? "", action ?? "", new(own, metered));
        }
    }

    private sealed class Cut
    {
        public ServiceEvent? Event;

        public void Visit(StateVisitor state)
        {
            var (machine, at, action, serial, note) = (Event?.Machine, Event?.At ?? default, Event?.Action, Event?.Serial, Event?.Note);
            var part = Event?.Part;
            state.Walk(ref machine);
            state.Walk(ref at);
            state.Walk(ref part);
            state.Walk(ref action);
            state.Walk(ref serial);
            state.Walk(ref note);
            var details = Event is null ? [] : Event.Details.OrderBy(d => d.Key, StringComparer.Ordinal).Select(d => new Field { Name = d.Key, Value = d.Value }).ToList();
            state.Walk(details, () => new Field(), field => field.Visit(state));
            if (!state.IsLoading)
                return;
            var fields = new Dictionary<string, string>(StringComparer.Ordinal);
            foreach (var detail in details)
                fields[detail.Name ?? ""] = detail.Value ?? "";
            Event = new ServiceEvent(machine ?? "", at, part ?? "", action ?? "", serial, note, fields);
        }
    }

    private sealed class Field
    {
        public string? Name;
        public string? Value;

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Name);
            state.Walk(ref Value);
        }
    }
}
