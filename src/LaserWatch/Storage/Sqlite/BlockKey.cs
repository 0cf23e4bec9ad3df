namespace LaserWatch.Storage.Sqlite;

/// <summary>The numbers of packed blocks: by series, then by hour or day, so that what is read together lies together in the file.</summary>
internal static class BlockKey
{
    /// <summary>Room for several blocks of one series and hour.</summary>
    public const long Room = 1L << RoomBits;

    private const int RoomBits = 12;
    private const int TimeBits = 23;

    // Hours since 1970 lie within ±2 562 048, the ends of what an instant can tell.
    private const long TimeOffset = 1L << (TimeBits - 1);

    public static long Of(long seriesId, long hourOrDay) => ((seriesId << TimeBits) + hourOrDay + TimeOffset) << RoomBits;

    /// <summary>After all blocks of the series.</summary>
    public static long EndOf(long seriesId) => (seriesId + 1) << (TimeBits + RoomBits);

    public static long TimeOf(long key) => ((key >> RoomBits) & ((1L << TimeBits) - 1)) - TimeOffset;
}
