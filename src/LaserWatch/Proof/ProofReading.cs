using System.Buffers;
using LaserWatch.Recordings;

namespace LaserWatch.Proof;

/// <summary>A covered day: what its proof says, and the log's entry.</summary>
internal sealed record ProvenDay(DayEntry Entry, ProofDay Proof, byte[] List, long Line);

/// <summary>The proof as a recording carries it, with all that is wrong with its spelling.</summary>
internal sealed class ProofReading
{
    private readonly List<(ProofDay Day, MemoryStream List, long Line)> _days = [];
    private readonly ArrayBufferWriter<byte> _rest = new();
    private int _proofLines;
    private bool _ended;

    private ProofReading()
    {
    }

    /// <summary>False where no line of a proof was met.</summary>
    public bool IsThere => _proofLines > 0;

    public string Machine { get; private set; } = "";

    public string Content { get; private set; } = "";

    public LogContent Log { get; private set; } = new("");

    public List<ProvenDay> Days { get; } = [];

    /// <summary>What is wrong, to be read after the number of the line.</summary>
    public List<(long? Line, string Words)> Mistakes { get; } = [];

    /// <summary>Lines of the recording's kind that lie outside its time.</summary>
    public Stream Rest() => new MemoryStream(_rest.WrittenSpan.ToArray());

    /// <summary>Reads the proof's lines of a recording, and passes over all others.</summary>
    /// <param name="source">The recording, plain or gzip; closed.</param>
    /// <exception cref="IOException">It cannot be read.</exception>
    /// <exception cref="InvalidDataException">Its compression is damaged.</exception>
    public static ProofReading Read(Stream source)
    {
        var reading = new ProofReading();
        using (source)
        using (var plain = RecordingReader.Unzipped(source))
        {
            var lines = new RecordingLines(plain);
            var number = 0L;
            while (true)
            {
                var outcome = lines.Read(out var line);
                if (outcome == LineOutcome.End)
                    break;
                number++;
                if (outcome == LineOutcome.Line && line.StartsWith(ProofPrefix.Any) && !RecordingReader.IsTrainingMark(line))
                    reading.Take(line.EndsWith("\r"u8) ? line[..^1] : line, number);
            }
        }

        reading.Complete();
        return reading;
    }

    private void Take(ReadOnlySpan<byte> line, long number)
    {
        _proofLines++;
        var wrong = _ended ? "comes after the proof's end"
            : line.StartsWith(ProofPrefix.Part) ? TakePart(line[ProofPrefix.Part.Length..], number)
            : Machine.Length == 0 ? "comes before the proof's begin"
            : line.StartsWith(ProofPrefix.Log) ? Log.Take(line[ProofPrefix.Log.Length..])
            : line.StartsWith(ProofPrefix.Rest) ? TakeRest(line[ProofPrefix.Rest.Length..])
            : "is no line of a proof";
        if (wrong is not null)
            Mistakes.Add((number, wrong));
    }

    private string? TakePart(ReadOnlySpan<byte> json, long number)
    {
        if (LogJson.TryRead<ProofBegin>(json, out var begin) && begin.Part == ProofBegin.Name)
        {
            if (Machine.Length > 0)
                return "is a second begin";
            if (begin.Version != ProofBegin.Newest)
                return $"is a proof of version {begin.Version}; this program reads version {ProofBegin.Newest}";
            if (begin.Content is not (ProofContents.Recording or ProofContents.Excerpt))
                return $"is a proof of '{begin.Content}', which this program does not know";
            Machine = begin.Machine;
            Content = begin.Content;
            Log = new LogContent(begin.Machine);
            return null;
        }

        if (Machine.Length == 0)
            return "comes before the proof's begin";
        if (LogJson.TryRead<ProofDay>(json, out var day) && day.Part == ProofDay.Name)
        {
            _days.Add((day, new MemoryStream(), number));
            return null;
        }

        if (LogJson.TryRead<ProofLeaves>(json, out var leaves) && leaves.Part == ProofLeaves.Name)
        {
            if (_days is not [.., var (last, list, _)] || last.Entry != leaves.Entry || !LogJson.TryBase64(leaves.Data, out var bytes))
                return "is a leaf list that belongs to no day before it";
            list.Write(bytes);
            return null;
        }

        if (LogJson.TryRead<ProofEnd>(json, out var end) && end.Part == ProofEnd.Name)
        {
            _ended = true;
            return end.Lines == _proofLines ? null : $"says that the proof has {end.Lines} lines, but {_proofLines} are there";
        }

        return "is not spelled as a proof is";
    }

    private string? TakeRest(ReadOnlySpan<byte> line)
    {
        _rest.Write(line);
        _rest.Write("\n"u8);
        return null;
    }

    private void Complete()
    {
        if (!IsThere)
            return;
        if (!_ended && Mistakes.Count == 0)
            Mistakes.Add((null, "the proof breaks off: its end is missing"));
        foreach (var (day, list, line) in _days)
        {
            var bytes = list.ToArray();
            if (day.Entry < 0 || day.Entry >= Log.Entries.Count)
                Mistakes.Add((line, $"is of the log's entry {day.Entry}, which is not there"));
            else if (Digest.Of(bytes) != day.Leaves)
                Mistakes.Add((line, $"does not fit its leaf list ({Log.Entries[day.Entry].Day:yyyy-MM-dd})"));
            else
                Days.Add(new ProvenDay(Log.Entries[day.Entry], day, bytes, line));
        }

        Days.Sort((a, b) => a.Entry.Day.CompareTo(b.Entry.Day));
    }
}
