namespace LaserWatch.Storage.Sqlite;

/// <summary>The numbers of packed blocks: by series, then by hour or day, so that what is read together lies together in the file.</summary>
internal static class BlockKey
{
    /// <summary>Room for several blocks of one series and hour.</summary>
    public const long Room = 1L << RoomBits;

    /// <summary>Room for the commits of one machine in one hour.</summary>
    public const long TailRoom = 1L << TailRoomBits;

    private const int RoomBits = 12;
    private const int TailRoomBits = 18;
    private const int TimeBits = 23;

    // Hours since 1970 lie within ±2 562 048, the ends of what an instant can tell.
    private const long TimeOffset = 1L << (TimeBits - 1);

    public static long Of(long seriesId, long hourOrDay) => ((seriesId << TimeBits) + hourOrDay + TimeOffset) << RoomBits;

    /// <summary>After all blocks of the series.</summary>
    public static long EndOf(long seriesId) => (seriesId + 1) << (TimeBits + RoomBits);

    /// <summary>The first number of the tail blocks of a machine's hour; the machine is known by the first of its series.</summary>
    public static long OfTail(long machineId, long hour) => ((machineId << TimeBits) + hour + TimeOffset) << TailRoomBits;

    /// <summary>After all tail blocks of the machine.</summary>
    public static long EndOfTail(long machineId) => (machineId + 1) << (TimeBits + TailRoomBits);

    public static long HourOfTail(long key) => ((key >> TailRoomBits) & ((1L << TimeBits) - 1)) - TimeOffset;

    public static long TimeOf(long key) => ((key >> RoomBits) & ((1L << TimeBits) - 1)) - TimeOffset;
}
