using LaserWatch.Recordings;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Proof;

/// <summary>Checks a recording against the proof that it carries.</summary>
/// <remarks>
/// Reads it twice: for the proof, and then for what it holds, a day in memory at a time; a third time for the line numbers where something differs.
/// What counts is what the lines say: telemetry by machine, channel, time and value (order within five seconds, spelling of numbers, white space at
/// line ends and comments of others do not), events by the bytes of their lines.
/// </remarks>
public sealed class RecordingVerifier
{
    private readonly Func<Stream> _open;
    private readonly ProofReading _proof;
    private readonly VerificationReport _report;
    private readonly Dictionary<DateOnly, ProvenDay> _days;
    private readonly Dictionary<DateOnly, List<PlacedLeaf>> _events = [];
    private readonly Dictionary<DateOnly, long> _unsealed = [];
    private readonly SampleLeaves _leaves;
    private readonly HashSet<DateOnly> _seen = [];
    private DateOnly? _day;
    private bool _toldOrder;
    private bool _toldMachine;
    private bool _toldTags;

    private RecordingVerifier(Func<Stream> open, ProofReading proof, VerificationReport report)
    {
        _open = open;
        _proof = proof;
        _report = report;
        _days = proof.Days.GroupBy(day => day.Entry.Day).ToDictionary(group => group.Key, group => group.Last());
        _leaves = new SampleLeaves(proof.Machine);
    }

    /// <param name="open">Opens the recording, plain or gzip, from its beginning; up to three times.</param>
    /// <exception cref="IOException">It cannot be read.</exception>
    /// <exception cref="InvalidDataException">Its compression is damaged, or it breaks off.</exception>
    public static VerificationReport Verify(Func<Stream> open, VerificationDemands demands)
    {
        var proof = ProofReading.Read(open());
        var report = new VerificationReport { Machine = proof.Machine, Content = proof.Content, HasProof = proof.IsThere };
        if (!proof.IsThere)
            return report;
        report.AddAll(proof.Mistakes.Select(mistake => new Finding(
            null, null, null, FindingKinds.Proof, mistake.Line is null ? mistake.Words : "the proof " + mistake.Words, mistake.Line, mistake.Line)));
        if (proof.Machine.Length == 0)
            return report;
        LogVerification.Check(proof.Log, demands, report);
        CoverageCheck.Check(proof, report);
        var verifier = new RecordingVerifier(open, proof, report);
        verifier.ReadAll();
        verifier.Finish();
        return report;
    }

    /// <summary>The newest head that a recording carries; null where it has none.</summary>
    public static LogHead? HeadOf(Func<Stream> open) => ProofReading.Read(open()).Log.Head;

    private void ReadAll()
    {
        var table = new ChannelTable();
        using var file = new RecordingReader(_open(), table) { Seen = See };
        using var rest = new RecordingReader(_proof.Rest(), table) { Seen = (line, _, parsed) => See(line, 0, parsed) };
        var next = rest.Read();
        while (file.Read() is { } e)
        {
            while (next is not null && next.At < e.At)
            {
                Take(next, isRest: true);
                next = rest.Read();
            }

            Take(e, isRest: false);
        }

        for (; next is not null; next = rest.Read())
            Take(next, isRest: true);
        CloseDay();
        TellUnread(file.Counts);
        if (rest.Counts.Unread + rest.Counts.UnknownChannels + rest.Counts.NotNumbers + rest.Counts.UnknownMeasurements > 0)
            _report.Add(new Finding(null, null, null, FindingKinds.Proof, "a rest line of the proof cannot be read"));
    }

    /// <summary>Events are taken here, by their bytes, since the reader hands out only what it understood of them.</summary>
    private void See(ReadOnlySpan<byte> line, long number, ParsedLine? parsed)
    {
        if (parsed is null)
            return;
        if (parsed.Measurement == EventLines.Telemetry)
        {
            if (parsed.Tags.Count != 1 && !_toldTags)
            {
                _report.Add(new Finding(null, null, null, FindingKinds.Added, "the line has tags beside the machine, which no proof speaks of", number, number));
                _toldTags = true;
            }

            return;
        }

        if (parsed.Measurement != EventLines.JobRecordName && parsed.Tag("machine") != _proof.Machine)
        {
            TellMachine(parsed.Tag("machine"), number);
            return;
        }

        var day = UtcDay.Of(parsed.Time);
        if (!_events.TryGetValue(day, out var events))
            _events.Add(day, events = []);
        events.Add(new PlacedLeaf(new EventLeaf(parsed.Time, line.TrimEnd(" \t\r"u8)), parsed.Measurement, number));
        _report.Events += number > 0 ? 1 : 0;
    }

    private void Take(RecordingEvent e, bool isRest)
    {
        if (e.Kind != RecordingEventKind.Telemetry)
            return;
        if (e.Machine != _proof.Machine)
        {
            TellMachine(e.Machine, e.Line);
            return;
        }

        var day = UtcDay.Of(e.At);
        if (day != _day && !BeginDay(day, e.Line))
            return;
        foreach (var (channel, value) in e.Values)
        {
            if (!_leaves.Add(channel, e.At, value))
            {
                TellOrder(day, e.Line);
                return;
            }
        }

        if (isRest)
            return;
        _report.Samples += e.Values.Length;
        if (_days.ContainsKey(day))
        {
            _report.FirstSample ??= e.At;
            _report.LastSample = e.At;
        }
    }

    private bool BeginDay(DateOnly day, long line)
    {
        if (day < _day)
        {
            TellOrder(day, line);
            return false;
        }

        CloseDay();
        _day = day;
        return true;
    }

    private void CloseDay()
    {
        if (_day is not { } day)
            return;
        _leaves.Complete();
        _seen.Add(day);
        if (_days.TryGetValue(day, out var proven))
            Compare(proven, _leaves.Leaves);
        else
            _unsealed[day] = _leaves.Leaves.Sum(leaf => (long)leaf.Count);
        _leaves.Clear();
    }

    private void Compare(ProvenDay day, IReadOnlyList<SampleLeaf> leaves)
    {
        var findings = new List<Finding>();
        if (ListOf(day) is not { } list)
            return;
        DayVerification.CompareSamples(day.Entry, day.Proof.Samples, list, leaves, findings);
        _report.AddAll(findings);
    }

    private static LeafList? ListOf(ProvenDay day) =>
        LeafList.Unpack(day.List, day.Entry, day.Proof.Samples.Count, day.Proof.Events.Count, day.Proof.Records.Count);

    private void Finish()
    {
        foreach (var day in _days.Values.OrderBy(day => day.Entry.Day))
        {
            if (ListOf(day) is not { } list)
            {
                _report.Add(new Finding(day.Entry.Day, null, null, FindingKinds.Proof, "the leaf list of the day cannot be read", day.Line, day.Line));
                continue;
            }

            if (!_seen.Contains(day.Entry.Day))
                Compare(day, []);
            CompareEvents(day, list);
            _report.Days++;
        }

        foreach (var day in _unsealed.Keys.Concat(_events.Keys).Where(day => !_days.ContainsKey(day)).Distinct().Order())
            JudgeUnsealed(day, _unsealed.GetValueOrDefault(day), _events.GetValueOrDefault(day)?.Count ?? 0);
        _report.Sort();
        FindingLines.Fill(_open, _proof.Machine, _report);
    }

    private void CompareEvents(ProvenDay day, LeafList list)
    {
        var leaves = _events.GetValueOrDefault(day.Entry.Day) ?? [];
        leaves.Sort((a, b) => EventLeaf.Compare(a.Leaf, b.Leaf));
        var records = leaves.Where(leaf => leaf.Measurement == EventLines.JobRecordName).ToList();
        var events = leaves.Where(leaf => leaf.Measurement != EventLines.JobRecordName).ToList();
        var findings = new List<Finding>();
        DayVerification.CompareEvents(day.Entry.Day, day.Entry.Events, day.Proof.Events, list.Events, events, findings);
        DayVerification.CompareEvents(day.Entry.Day, day.Entry.Records, day.Proof.Records, list.Records, records, findings);
        _report.AddAll(findings);
    }

    /// <summary>What stands in a day without a proof: honest only where the day could not be sealed yet.</summary>
    private void JudgeUnsealed(DateOnly day, long samples, int events)
    {
        var what = $"{samples} sample(s) and {events} event line(s)";
        var line = _events.GetValueOrDefault(day)?.Min(leaf => leaf.Line);
        if (_proof.Log.Newest.ContainsKey(day))
            _report.Add(new Finding(day, null, null, FindingKinds.Proof, $"{what} stand here; the log has this day, but its proof was taken out of the file", line));
        else if (_proof.Log.Head is { } head && Alarms.Rfc3339.TryParse(head.At, out var at) && at < UtcDay.End(day) + EvidenceKeeper.Rest)
            _report.NotCovered.Add($"{day:yyyy-MM-dd}: {what}; the day was not over when the log was signed last, {head.At}");
        else
            _report.Add(new Finding(day, null, null, FindingKinds.Added, $"{what} stand here, but the log, signed when the day was over, does not know it: they were added, or not sealed yet", line));
    }

    private void TellUnread(RecordingCounts counts)
    {
        foreach (var unread in counts.FirstUnread)
            _report.Add(new Finding(null, null, null, FindingKinds.Altered, unread.Mistake, unread.Line, unread.Line));
        var others = counts.Unread - counts.FirstUnread.Count;
        if (others + counts.UnknownMeasurements + counts.UnknownChannels + counts.NotNumbers > 0)
        {
            _report.Add(new Finding(
                null, null, null, FindingKinds.Added,
                $"{others} more unreadable line(s), {counts.UnknownMeasurements} of no known measurement, {counts.UnknownChannels} field(s) of no channel and {counts.NotNumbers} that are no number stand in the file; a recording has none"));
        }
    }

    private void TellMachine(string? machine, long line)
    {
        if (!_toldMachine)
            _report.Add(new Finding(null, null, null, FindingKinds.Added, $"the line is of the machine {machine}; the proof is of {_proof.Machine}", line, line));
        _toldMachine = true;
    }

    private void TellOrder(DateOnly day, long line)
    {
        if (!_toldOrder)
            _report.Add(new Finding(day, null, null, FindingKinds.Altered, "the line stands more than five seconds out of its time's order", line, line));
        _toldOrder = true;
    }
}
