using System.Runtime.InteropServices;
using LaserWatch.Storage.Packing;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Writes the samples of a batch: what is later than all of its series as one block a machine and hour, or of many machines as one block; the rest as rows.</summary>
/// <remarks>
/// Only what is later than all before is known to be no duplicate without looking, so blocks take nothing else; and few samples take less room as
/// rows. Remembers of each series how far it reaches. Wants a transaction around it. Not safe for several threads.
/// </remarks>
internal sealed class SampleAppending : IDisposable
{
    /// <summary>Fewer of one machine and hour are written as rows, which are smaller then.</summary>
    public const int LeastForBlock = 4;

    /// <summary>What a commit brings of more machines is gathered first, unless it is a block's worth of each.</summary>
    public const int FewMachines = 8;

    /// <summary>About as many samples as fill what <see cref="Gathering.EnoughOfEach"/> says.</summary>
    private const int EnoughForBlock = Gathering.EnoughOfEach / 9;

    private readonly List<Statement> _statements = [];
    private readonly Statement _addSeries;
    private readonly Statement _findSeries;
    private readonly Statement _newestRow;
    private readonly Statement _addRow;
    private readonly Statement _findRow;
    private readonly Statement _countIgnored;
    private readonly SealedHours _sealed;
    private readonly PackedParts _packed;
    private readonly TailBlocks _tail;
    private readonly TailWriting _blocks;
    private readonly Gathering _gathering;

    private readonly Dictionary<string, MachineSeries> _machines = new(StringComparer.Ordinal);
    private readonly List<MachineSeries> _fresh = [];
    private readonly List<LateSample> _late = [];
    private readonly List<Series> _lateSeries = [];
    private readonly List<Series> _ignoring = [];
    private readonly List<TailPart> _parts = [];
    private readonly Dictionary<long, SampleColumn> _lateColumns = [];
    private readonly List<SampleColumn> _spare = [];
    private readonly PackWriter _body = new();
    private int[] _next = [];
    private long[] _times = [];
    private double[] _values = [];
    private int _freshCount;

    public SampleAppending(SqliteConnection connection)
    {
        _sealed = new SealedHours(connection);
        _packed = new PackedParts(_sealed);
        _tail = new TailBlocks(connection);
        _blocks = new TailWriting(connection, _tail);
        _gathering = new Gathering(connection, _blocks);
        _addSeries = Prepare("""
            INSERT INTO series (machine, channel, unit) VALUES (?1, ?2, ?3)
            ON CONFLICT (machine, channel) DO UPDATE SET unit = excluded.unit WHERE excluded.unit <> '' AND unit <> excluded.unit
            """);
        _findSeries = Prepare("SELECT id FROM series WHERE machine = ?1 AND channel = ?2");
        _newestRow = Prepare("SELECT ts FROM sample WHERE series_id = ?1 ORDER BY ts DESC LIMIT 1");
        _addRow = Prepare("INSERT INTO sample (series_id, ts, value) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING");
        _findRow = Prepare("SELECT value FROM sample WHERE series_id = ?1 AND ts = ?2");
        _countIgnored = Prepare("UPDATE series SET duplicates = duplicates + ?2, conflicts = conflicts + ?3 WHERE id = ?1");

        Statement Prepare(string sql)
        {
            var statement = new Statement(connection, sql);
            _statements.Add(statement);
            return statement;
        }
    }

    public void Write(ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        _gathering.Begin();
        Divide(samples);
        if (_gathering.HoldsSome || (_fresh.Count > FewMachines && _freshCount < _fresh.Count * EnoughForBlock))
        {
            WriteTogether(samples);
        }
        else
        {
            foreach (var machine in CollectionsMarshal.AsSpan(_fresh))
                WriteFresh(machine, samples);
        }

        _fresh.Clear();
        WriteLate(samples);
        foreach (var series in _ignoring)
        {
            _countIgnored.Bind(1, series.Id).Bind(2, series.Duplicates).Bind(3, series.Conflicts).Run();
            series.Duplicates = 0;
            series.Conflicts = 0;
        }

        _ignoring.Clear();
    }

    /// <summary>Moves what commits brought of many machines to blocks of each; returns what of it is damaged, and stays where it is.</summary>
    public StoreException? Gather()
    {
        _gathering.Begin();
        return _gathering.Gather();
    }

    /// <summary>Forgets all that it knows of the file, and what a failed write left.</summary>
    public void Forget()
    {
        _machines.Clear();
        _fresh.Clear();
        _late.Clear();
        _ignoring.Clear();
        _packed.Forget();
        _blocks.Forget();
        _gathering.Forget();
    }

    public void Forget(string machine)
    {
        if (_machines.Remove(machine, out var known))
        {
            foreach (var series in known.ByName.Values)
                _packed.Return(ref series.Packed);
        }

        _blocks.Forget();
    }

    /// <summary>Lets go of memory that late samples took, where none came since the last call.</summary>
    public void Rest() => _packed.Rest();

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
        _sealed.Dispose();
        _tail.Dispose();
        _blocks.Dispose();
        _gathering.Dispose();
    }

    /// <summary>Chains the samples that are later than all before of their series, and lists the others.</summary>
    private void Divide(ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        if (_next.Length < samples.Length)
            _next = new int[Math.Max(samples.Length, 2 * _next.Length)];
        MachineSeries? machine = null;
        _freshCount = 0;
        for (var i = 0; i < samples.Length; i++)
        {
            ref readonly var entry = ref samples[i];
            if (machine is null || !ReferenceEquals(machine.Name, entry.Machine))
                machine = FindMachine(entry.Machine);
            var series = FindSeries(machine, entry.Sample.Channel);
            var ts = entry.Sample.At.UnixNanoseconds;
            if (ts <= series.Newest)
            {
                _late.Add(new LateSample(machine, series, TimeGrid.HourOf(entry.Sample.At), i));
                continue;
            }

            series.Newest = ts;
            _freshCount++;
            if (!series.Fresh.Add(i, _next))
                continue;
            if (machine.Fresh.Count == 0)
                _fresh.Add(machine);
            machine.Fresh.Add(series);
        }
    }

    private void WriteFresh(MachineSeries machine, ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        while (machine.Fresh.Count > 0)
        {
            var part = TakeHour(machine, samples);
            if (part.Count < LeastForBlock || !TryWriteBlock(machine, part))
                WriteRows();
        }
    }

    /// <summary>Writes what is fresh of all machines as one row.</summary>
    private void WriteTogether(ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        if (_fresh.Count == 0)
            return;
        _gathering.BeginRow();
        foreach (var machine in CollectionsMarshal.AsSpan(_fresh))
        {
            while (machine.Fresh.Count > 0)
            {
                var part = TakeHour(machine, samples);
                _body.Clear();
                PackedTail.Write(_body, CollectionsMarshal.AsSpan(_parts), _times.AsSpan(0, part.Count), _values.AsSpan(0, part.Count));
                _gathering.Add(part, _body.Written);
                machine.BlocksUntil = Math.Max(machine.BlocksUntil, part.Last);
            }
        }

        _gathering.EndRow();
    }

    /// <summary>Lays the fresh samples of the first hour that has some side by side, series by series, and leaves the rest.</summary>
    private ArrivedPart TakeHour(MachineSeries machine, ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        var first = long.MaxValue;
        foreach (var series in CollectionsMarshal.AsSpan(machine.Fresh))
            first = Math.Min(first, samples[series.Fresh.First].Sample.At.UnixNanoseconds);
        var hour = TimeGrid.HourOf(new Instant(first));
        var (end, last) = (TimeGrid.LastOfHour(hour), first);
        _parts.Clear();
        var count = 0;
        var left = 0;
        foreach (var series in CollectionsMarshal.AsSpan(machine.Fresh))
        {
            var begin = count;
            var i = series.Fresh.First;
            for (; i >= 0 && samples[i].Sample.At.UnixNanoseconds <= end; i = _next[i])
            {
                if (count == _times.Length)
                {
                    Array.Resize(ref _times, Math.Max(256, 2 * count));
                    Array.Resize(ref _values, _times.Length);
                }

                _times[count] = samples[i].Sample.At.UnixNanoseconds;
                _values[count++] = samples[i].Sample.Value;
            }

            series.Fresh.First = i;
            if (count > begin)
            {
                _parts.Add(new TailPart(series.Id, begin, count - begin));
                last = Math.Max(last, _times[count - 1]);
            }

            if (i >= 0)
                machine.Fresh[left++] = series;
        }

        machine.Fresh.RemoveRange(left, machine.Fresh.Count - left);
        return new(machine.Id, hour, first, last, count);
    }

    /// <summary>False where the numbers of the hour are used up.</summary>
    private bool TryWriteBlock(MachineSeries machine, in ArrivedPart part)
    {
        PackedTail.Write(_blocks.Begin(), CollectionsMarshal.AsSpan(_parts), _times.AsSpan(0, part.Count), _values.AsSpan(0, part.Count));
        if (!_blocks.TryEnd(part))
            return false;
        machine.BlocksUntil = Math.Max(machine.BlocksUntil, part.Last);
        return true;
    }

    private void WriteRows()
    {
        foreach (var part in _parts)
        {
            for (var i = part.Begin; i < part.Begin + part.Count; i++)
                _addRow.Bind(1, part.SeriesId).Bind(2, _times[i]).Bind(3, _values[i]).Run();
        }
    }

    /// <summary>What may be there already, a machine's hour at a time, so that its blocks are read once.</summary>
    private void WriteLate(ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        _late.Sort();
        var late = CollectionsMarshal.AsSpan(_late);
        while (late.Length > 0)
        {
            var (machine, hour) = (late[0].Machine, late[0].Hour);
            var count = 1;
            while (count < late.Length && ReferenceEquals(late[count].Machine, machine) && late[count].Hour == hour)
                count++;
            ReadBlocks(late[..count], samples);
            WriteLateHour(late[..count], samples);
            late = late[count..];
        }

        _late.Clear();
    }

    /// <summary>The late samples of a machine's hour, a series at a time, so that its packed hour is unpacked once.</summary>
    private void WriteLateHour(ReadOnlySpan<LateSample> late, ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        _lateSeries.Clear();
        foreach (ref readonly var one in late)
        {
            if (one.Series.Late.Add(one.Index, _next))
                _lateSeries.Add(one.Series);
        }

        _sealed.Begin();
        foreach (var series in _lateSeries)
        {
            var packed = FindPacked(series, late[0].Hour, samples);
            for (var i = series.Late.First; i >= 0; i = _next[i])
                WriteLate(series, samples[i].Sample, packed);
            series.Late.First = -1;
        }
    }

    /// <summary>What the packed hour has from the first to the last of the series' late samples.</summary>
    private PackedParts.Part FindPacked(Series series, long hour, ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        if (TimeGrid.LastOfHour(hour) > series.SealedUntil)
            return default;
        var (first, last) = (long.MaxValue, long.MinValue);
        for (var i = series.Late.First; i >= 0; i = _next[i])
        {
            var ts = samples[i].Sample.At.UnixNanoseconds;
            (first, last) = (Math.Min(first, ts), Math.Max(last, ts));
        }

        return _packed.Find(ref series.Packed, series.Id, hour, first, last);
    }

    private void ReadBlocks(ReadOnlySpan<LateSample> late, ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        var machine = late[0].Machine;
        var first = long.MaxValue;
        foreach (ref readonly var one in late)
            first = Math.Min(first, samples[one.Index].Sample.At.UnixNanoseconds);
        _lateColumns.Clear();
        if (first > machine.BlocksUntil)
            return;
        foreach (ref readonly var one in late)
        {
            if (_lateColumns.Count == _spare.Count)
                _spare.Add(new SampleColumn());
            var column = _spare[_lateColumns.Count];
            if (_lateColumns.TryAdd(one.Series.Id, column))
                column.Clear();
        }

        try
        {
            _tail.Read(machine.Id, late[0].Hour, first, _lateColumns);
            _gathering.Read(machine.Id, late[0].Hour, first, _lateColumns);
        }
        catch (Exception e) when (e is StoreException or InvalidDataException)
        {
            // Damaged. To refuse the samples would hold up all that comes after them; upkeep and readers say that the hour is damaged.
        }
    }

    private void WriteLate(Series series, in Sample sample, PackedParts.Part packed)
    {
        var ts = sample.At.UnixNanoseconds;
        if (packed.TryFind(ts, out var kept))
            CountIgnored(series, kept, sample.Value);
        else if (_lateColumns.TryGetValue(series.Id, out var blocks) && blocks.TryFind(ts, out kept))
            CountIgnored(series, kept, sample.Value);
        else if (_addRow.Bind(1, series.Id).Bind(2, ts).Bind(3, sample.Value).Run() == 0)
            CountIgnored(series, FindRow(series, ts), sample.Value);
    }

    private void CountIgnored(Series series, double kept, double value)
    {
        if (series.Duplicates + series.Conflicts == 0)
            _ignoring.Add(series);
        if (kept == value)
            series.Duplicates++;
        else
            series.Conflicts++;
    }

    private double FindRow(Series series, long ts)
    {
        _findRow.Bind(1, series.Id).Bind(2, ts).Step();
        var kept = _findRow.Double(0);
        _findRow.Reset();
        return kept;
    }

    private MachineSeries FindMachine(string name)
    {
        if (!_machines.TryGetValue(name, out var machine))
            _machines.Add(name, machine = new MachineSeries(name));
        return machine;
    }

    private Series FindSeries(MachineSeries machine, Channel channel)
    {
        // A channel's index is its place in one table; with samples of two tables, the reference tells them apart.
        if (channel.Index < machine.ByIndex.Length && machine.ByIndex[channel.Index] is { } known && ReferenceEquals(known.Channel, channel))
            return known;
        if (!machine.ByName.TryGetValue(channel.Name, out var series))
            machine.ByName.Add(channel.Name, series = MeetSeries(machine, channel));
        if (channel.Index >= machine.ByIndex.Length)
            Array.Resize(ref machine.ByIndex, Math.Max(channel.Index + 1, 16));
        series.Channel = channel;
        machine.ByIndex[channel.Index] = series;
        return series;
    }

    private Series MeetSeries(MachineSeries machine, Channel channel)
    {
        _addSeries.Bind(1, machine.Name).Bind(2, channel.Name).Bind(3, channel.Unit).Run();
        var id = _findSeries.Bind(1, machine.Name).Bind(2, channel.Name).RunForInt64()!.Value;
        if (machine.Id == 0)
        {
            machine.Id = _tail.MachineOf(id);
            machine.BlocksUntil = Math.Max(_tail.Until(machine.Id) ?? long.MinValue, _gathering.Until(machine.Id) ?? long.MinValue);
        }

        // How far the blocks reach is known of the machine alone: a first sample that is no later than that is looked for.
        var sealedUntil = _sealed.LastHour(id) is { } hour ? TimeGrid.LastOfHour(hour) : long.MinValue;
        var rowsUntil = _newestRow.Bind(1, id).RunForInt64() ?? long.MinValue;
        return new Series(id, sealedUntil) { Newest = Math.Max(machine.BlocksUntil, Math.Max(sealedUntil, rowsUntil)) };
    }

    private sealed class MachineSeries(string name)
    {
        public readonly string Name = name;
        public readonly Dictionary<string, Series> ByName = new(StringComparer.Ordinal);
        public readonly List<Series> Fresh = [];
        public Series?[] ByIndex = new Series?[16];
        public long Id;

        /// <summary>No block has a sample after it.</summary>
        public long BlocksUntil;
    }

    private sealed class Series(long id, long sealedUntil)
    {
        public readonly long Id = id;
        public readonly long SealedUntil = sealedUntil;

        /// <summary>No sample of it is later, wherever it stands.</summary>
        public long Newest;

        public Chain Fresh = new();
        public Chain Late = new();
        public Channel? Channel;
        public PackedParts.Place Packed;
        public long Duplicates;
        public long Conflicts;
    }

    /// <summary>Samples of one series in a commit, by their places in it, in the order in which they came.</summary>
    private struct Chain()
    {
        /// <summary>Negative where there is none.</summary>
        public int First = -1;
        private int _last;

        /// <summary>Adds a place behind the others; true where it is the first.</summary>
        /// <param name="next">For each place of the commit, the one that follows it in its chain; negative behind the last.</param>
        public bool Add(int place, int[] next)
        {
            next[place] = -1;
            var isFirst = First < 0;
            if (isFirst)
                First = place;
            else
                next[_last] = place;
            _last = place;
            return isFirst;
        }
    }

    /// <summary>By machine and hour, then as they came.</summary>
    private readonly record struct LateSample(MachineSeries Machine, Series Series, long Hour, int Index) : IComparable<LateSample>
    {
        public int CompareTo(LateSample other)
        {
            var order = Machine.Id.CompareTo(other.Machine.Id);
            if (order == 0)
                order = Hour.CompareTo(other.Hour);
            return order != 0 ? order : Index.CompareTo(other.Index);
        }
    }
}
