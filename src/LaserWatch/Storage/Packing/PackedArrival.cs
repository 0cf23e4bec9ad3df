using LaserWatch.Telemetry;

namespace LaserWatch.Storage.Packing;

/// <summary>What one commit brought of many machines: of each machine and hour a head and the body of a tail. The format stands in <see cref="ChunkFormat"/>.</summary>
/// <remarks>The bodies are those of <see cref="PackedTail"/>, so that to gather them is to lay them one behind the other.</remarks>
internal static class PackedArrival
{
    public static void Write(PackWriter to, in ArrivedPart part, ReadOnlySpan<byte> body)
    {
        to.WriteNumber((ulong)part.MachineId);
        to.WriteSigned(part.Hour);
        to.WriteNumber((ulong)(part.First - TimeGrid.FirstOfHour(part.Hour)));
        to.WriteNumber((ulong)(part.Last - part.First));
        to.WriteNumber((ulong)part.Count);
        to.WriteNumber((ulong)body.Length);
        to.Write(body);
    }

    /// <summary>The next part; there is one while bytes are left.</summary>
    /// <exception cref="InvalidDataException">The bytes are damaged.</exception>
    public static ArrivedPart Read(ref PackReader from, out ReadOnlySpan<byte> body)
    {
        var machineId = (long)from.ReadNumber();
        var hour = from.ReadSigned();
        var first = unchecked(TimeGrid.FirstOfHour(hour) + (long)from.ReadNumber());
        var last = unchecked(first + (long)from.ReadNumber());
        if (last < first || TimeGrid.HourOf(new Instant(first)) != hour || TimeGrid.HourOf(new Instant(last)) != hour)
            throw new InvalidDataException("the packed block has times outside of their hour");
        var count = from.ReadCount();
        body = from.Read(from.ReadCount());
        return new(machineId, hour, first, last, count);
    }
}

/// <summary>Of a machine's hour, what one commit brought: the times of the first and the last sample, and how many there are.</summary>
/// <param name="MachineId">The machine, known by the first of its series.</param>
internal readonly record struct ArrivedPart(long MachineId, long Hour, long First, long Last, int Count);
