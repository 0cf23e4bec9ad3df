using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>Writes the samples of a batch as rows. Of one series and instant the first sample stays, in a row or in a sealed hour; the others are counted.</summary>
/// <remarks>Remembers the series, and how far each is sealed. Wants a transaction around it. Not safe for several threads.</remarks>
internal sealed class SampleAppending : IDisposable
{
    private readonly List<Statement> _statements = [];
    private readonly Statement _addSeries;
    private readonly Statement _findSeries;
    private readonly Statement _addRow;
    private readonly Statement _findRow;
    private readonly Statement _countIgnored;
    private readonly SealedHours _sealed;

    private readonly Dictionary<string, MachineSeries> _machines = new(StringComparer.Ordinal);
    private readonly List<LateSample> _late = [];
    private readonly HashSet<Series> _ignoring = [];
    private readonly SampleColumn _hour = new();

    public SampleAppending(SqliteConnection connection)
    {
        _sealed = new SealedHours(connection);
        _addSeries = Prepare("""
            INSERT INTO series (machine, channel, unit) VALUES (?1, ?2, ?3)
            ON CONFLICT (machine, channel) DO UPDATE SET unit = excluded.unit WHERE excluded.unit <> '' AND unit <> excluded.unit
            """);
        _findSeries = Prepare("SELECT id, (SELECT min(id) FROM series WHERE machine = ?1) FROM series WHERE machine = ?1 AND channel = ?2");
        _addRow = Prepare("INSERT INTO sample (machine_id, ts, series_id, value) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING");
        _findRow = Prepare("SELECT value FROM sample WHERE machine_id = ?1 AND ts = ?2 AND series_id = ?3");
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
        MachineSeries? machine = null;
        for (var i = 0; i < samples.Length; i++)
        {
            ref readonly var entry = ref samples[i];
            if (machine is null || !ReferenceEquals(machine.Name, entry.Machine))
                machine = FindMachine(entry.Machine);
            var series = FindSeries(machine, entry.Sample.Channel);
            if (entry.Sample.At.UnixNanoseconds <= series.SealedUntil)
                _late.Add(new LateSample(series, TimeGrid.HourOf(entry.Sample.At), i));
            else
                WriteRow(series, entry.Sample);
        }

        WriteLate(samples);
        foreach (var series in _ignoring)
        {
            _countIgnored.Bind(1, series.Id).Bind(2, series.Duplicates).Bind(3, series.Conflicts).Run();
            series.Duplicates = 0;
            series.Conflicts = 0;
        }

        _ignoring.Clear();
    }

    /// <summary>Forgets all that it knows of the file, and what a failed write left.</summary>
    public void Forget()
    {
        _machines.Clear();
        _late.Clear();
        _ignoring.Clear();
    }

    public void Forget(string machine) => _machines.Remove(machine);

    public void Dispose()
    {
        foreach (var statement in _statements)
            statement.Dispose();
        _sealed.Dispose();
    }

    /// <summary>Writes late samples hour by hour, so that each sealed hour is unpacked once a batch.</summary>
    private void WriteLate(ReadOnlySpan<(string Machine, Sample Sample)> samples)
    {
        if (_late.Count == 0)
            return;
        _late.Sort();
        LateSample? before = null;
        foreach (var late in _late)
        {
            if (before is not { } same || same.Series.Id != late.Series.Id || same.Hour != late.Hour)
                ReadHour(late.Series.Id, late.Hour);
            before = late;
            ref readonly var sample = ref samples[late.Index].Sample;
            if (_hour.TryFind(sample.At.UnixNanoseconds, out var kept))
                CountIgnored(late.Series, kept, sample.Value);
            else
                WriteRow(late.Series, sample);
        }

        _late.Clear();
    }

    private void ReadHour(long seriesId, long hour)
    {
        _sealed.Begin();
        try
        {
            _sealed.TryRead(seriesId, hour, _hour);
        }
        catch (StoreException)
        {
            // Damaged: the column is empty. The samples stay rows, and readers and sealing report the damage.
        }
    }

    private void WriteRow(Series series, in Sample sample)
    {
        var ts = sample.At.UnixNanoseconds;
        if (_addRow.Bind(1, series.MachineId).Bind(2, ts).Bind(3, series.Id).Bind(4, sample.Value).Run() > 0)
            return;
        _findRow.Bind(1, series.MachineId).Bind(2, ts).Bind(3, series.Id).Step();
        var kept = _findRow.Double(0);
        _findRow.Reset();
        CountIgnored(series, kept, sample.Value);
    }

    private void CountIgnored(Series series, double kept, double value)
    {
        _ignoring.Add(series);
        if (kept == value)
            series.Duplicates++;
        else
            series.Conflicts++;
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
            machine.ByName.Add(channel.Name, series = AddSeries(machine.Name, channel));
        if (channel.Index >= machine.ByIndex.Length)
            Array.Resize(ref machine.ByIndex, Math.Max(channel.Index + 1, 16));
        series.Channel = channel;
        machine.ByIndex[channel.Index] = series;
        return series;
    }

    private Series AddSeries(string machine, Channel channel)
    {
        _addSeries.Bind(1, machine).Bind(2, channel.Name).Bind(3, channel.Unit).Run();
        _findSeries.Bind(1, machine).Bind(2, channel.Name).Step();
        var (id, machineId) = (_findSeries.Int64(0), _findSeries.Int64(1));
        _findSeries.Reset();
        return new Series(id, machineId, _sealed.LastHour(id) is { } hour ? TimeGrid.LastOfHour(hour) : long.MinValue);
    }

    private sealed class MachineSeries(string name)
    {
        public readonly string Name = name;
        public readonly Dictionary<string, Series> ByName = new(StringComparer.Ordinal);
        public Series?[] ByIndex = new Series?[16];
    }

    private sealed class Series(long id, long machineId, long sealedUntil)
    {
        public readonly long Id = id;
        public readonly long MachineId = machineId;

        /// <summary>No sealed sample of it is later.</summary>
        public readonly long SealedUntil = sealedUntil;

        public Channel? Channel;
        public long Duplicates;
        public long Conflicts;
    }

    /// <summary>By series and hour, then as they came.</summary>
    private readonly record struct LateSample(Series Series, long Hour, int Index) : IComparable<LateSample>
    {
        public int CompareTo(LateSample other)
        {
            var order = Series.Id.CompareTo(other.Series.Id);
            if (order == 0)
                order = Hour.CompareTo(other.Hour);
            return order != 0 ? order : Index.CompareTo(other.Index);
        }
    }
}
