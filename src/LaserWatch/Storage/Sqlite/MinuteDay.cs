using LaserWatch.Storage.Packing;
using Microsoft.Data.Sqlite;

namespace LaserWatch.Storage.Sqlite;

/// <summary>The summaries of minutes whose samples were deleted by age: a packed block a day of a series.</summary>
/// <remarks>A minute is summed up here or its samples are there, or some of them each; it is the sum of both. Not safe for several threads.</remarks>
internal sealed class MinuteDay(SqliteConnection connection) : IDisposable
{
    private readonly Statement _next = new(connection, "SELECT id FROM minute_day WHERE id >= ?1 AND id < ?2 ORDER BY id LIMIT 1");
    private readonly Statement _find = new(connection, "SELECT block FROM minute_day WHERE id = ?1");
    private readonly Statement _set = new(connection, "INSERT INTO minute_day (id, block) VALUES (?1, ?2) ON CONFLICT DO UPDATE SET block = excluded.block");
    private readonly PackWriter _block = new();

    /// <summary>The first day at or after the one given that has summaries.</summary>
    public long? NextDay(long seriesId, long day) =>
        _next.Bind(1, BlockKey.Of(seriesId, day)).Bind(2, BlockKey.EndOf(seriesId)).RunForInt64() is { } key
            ? BlockKey.TimeOf(key)
            : null;

    /// <summary>Adds the day's summaries to the list.</summary>
    /// <exception cref="StoreException">The block is damaged.</exception>
    public void Read(long seriesId, long day, List<(long Minute, RollUpSum Sum)> into)
    {
        var key = BlockKey.Of(seriesId, day);
        if (!_find.Bind(1, key).Step())
            return;
        try
        {
            var block = ChunkFormat.Open(_find.Bytes(0), key);
            into.AddRange(PackedMinutes.Read(ref block));
        }
        catch (Exception e) when (e is InvalidDataException or OverflowException)
        {
            throw new StoreException(
                $"The roll-ups of the day from {TimeGrid.StartOfMinute(day * TimeGrid.HoursPerDay * TimeGrid.MinutesPerHour)} are damaged in {connection.DataSource}: {e.Message}; put a copy of the file in its place.", e);
        }
        finally
        {
            _find.Reset();
        }
    }

    /// <summary>Replaces the day's summaries.</summary>
    /// <param name="minutes">In time order, each once.</param>
    public void Write(long seriesId, long day, IReadOnlyList<(long Minute, RollUpSum Sum)> minutes)
    {
        var key = BlockKey.Of(seriesId, day);
        ChunkFormat.Begin(_block);
        PackedMinutes.Write(_block, minutes);
        ChunkFormat.End(_block, key);
        _set.Bind(1, key).Bind(2, _block.Written).Run();
    }

    /// <summary>Puts the list in time order, each minute once.</summary>
    public static void Gather(List<(long Minute, RollUpSum Sum)> minutes)
    {
        minutes.Sort((a, b) => a.Minute.CompareTo(b.Minute));
        var kept = 0;
        for (var i = 0; i < minutes.Count; i++)
        {
            if (kept > 0 && minutes[kept - 1].Minute == minutes[i].Minute)
                minutes[kept - 1] = (minutes[i].Minute, minutes[kept - 1].Sum.Merge(minutes[i].Sum));
            else
                minutes[kept++] = minutes[i];
        }

        minutes.RemoveRange(kept, minutes.Count - kept);
    }

    public void Dispose()
    {
        foreach (var statement in new[] { _next, _find, _set })
            statement.Dispose();
    }
}
