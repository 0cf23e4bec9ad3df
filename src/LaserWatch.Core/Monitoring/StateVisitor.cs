using System.Buffers.Binary;
using System.Text;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>Walks the state of a watch, to write it down or to take it up again: one method in each part serves both ways.</summary>
/// <remarks>
/// Little-endian and positional, CRC-32C at its end, so a change of any part's walk is a new <see cref="Version"/>; a state of another version
/// is refused whole, and the owner builds the watch anew from the stored samples.
/// </remarks>
public sealed class StateVisitor
{
    /// <summary>Raise by one whenever any <c>Visit</c> method changes what it walks, or its order.</summary>
    public const int Version = 6;

    private readonly List<byte> _written;
    private readonly byte[] _source = [];
    private readonly ClockShift? _shift;
    private int _place;

    private StateVisitor(List<byte> into, ClockShift? shift) => (_written, _shift) = (into, shift);

    private StateVisitor(byte[] source)
    {
        _written = [];
        _source = source;
        IsLoading = true;
    }

    public bool IsLoading { get; }

    /// <summary>Times are written otherwise than they are.</summary>
    public bool IsShifting => _shift is not null;

    /// <summary>Loading, and not at the end: there is a part that not every state has.</summary>
    public bool HasMore => IsLoading && _place < _source.Length;

    /// <param name="shift">Every <see cref="Instant"/> is written as this makes it; null: as it is.</param>
    public static byte[] Save(Action<StateVisitor> walk, ClockShift? shift = null)
    {
        var written = new List<byte>();
        Save(walk, written, shift);
        return [.. written];
    }

    /// <summary>As above, into room that may be used again and again.</summary>
    /// <param name="into">Holds the state afterwards, and nothing else.</param>
    public static void Save(Action<StateVisitor> walk, List<byte> into, ClockShift? shift = null)
    {
        into.Clear();
        var visitor = new StateVisitor(into, shift);
        var version = Version;
        visitor.Walk(ref version);
        walk(visitor);
        var check = CheckSum.Of(System.Runtime.InteropServices.CollectionsMarshal.AsSpan(into));
        BinaryPrimitives.WriteUInt32LittleEndian(visitor.Give(sizeof(uint)), check);
    }

    /// <summary>False where the state is of another version, damaged or cut short; what was loaded by then must be thrown away.</summary>
    public static bool TryLoad(ReadOnlySpan<byte> state, Action<StateVisitor> walk)
    {
        // One bit that turned on the disk could otherwise make a state that no watch was ever in.
        if (state.Length < sizeof(int) + sizeof(uint) || BinaryPrimitives.ReadInt32LittleEndian(state) != Version
            || BinaryPrimitives.ReadUInt32LittleEndian(state[^sizeof(uint)..]) != CheckSum.Of(state[..^sizeof(uint)]))
            return false;
        var visitor = new StateVisitor(state[sizeof(int)..^sizeof(uint)].ToArray());
        try
        {
            walk(visitor);
        }
        catch (InvalidStateException)
        {
            return false;
        }

        return visitor._place == visitor._source.Length;
    }

    public void Walk(ref int value)
    {
        if (IsLoading)
            value = BinaryPrimitives.ReadInt32LittleEndian(Take(sizeof(int)));
        else
            BinaryPrimitives.WriteInt32LittleEndian(Give(sizeof(int)), value);
    }

    public void Walk(ref long value)
    {
        if (IsLoading)
            value = BinaryPrimitives.ReadInt64LittleEndian(Take(sizeof(long)));
        else
            BinaryPrimitives.WriteInt64LittleEndian(Give(sizeof(long)), value);
    }

    public void Walk(ref double value)
    {
        if (IsLoading)
            value = BinaryPrimitives.ReadDoubleLittleEndian(Take(sizeof(double)));
        else
            BinaryPrimitives.WriteDoubleLittleEndian(Give(sizeof(double)), value);
    }

    public void Walk(ref bool value)
    {
        var number = value ? 1 : 0;
        Walk(ref number);
        value = number != 0;
    }

    public void Walk(ref Instant value)
    {
        var nanoseconds = (_shift?.Of(value) ?? value).UnixNanoseconds;
        Walk(ref nanoseconds);
        if (IsLoading)
            value = new Instant(nanoseconds);
    }

    public void Walk(ref Instant? value)
    {
        var known = value.HasValue;
        Walk(ref known);
        var at = value ?? default;
        if (known)
            Walk(ref at);
        value = known ? at : null;
    }

    public void Walk(ref double? value)
    {
        var known = value.HasValue;
        Walk(ref known);
        var number = value ?? default;
        if (known)
            Walk(ref number);
        value = known ? number : null;
    }

    public void Walk<TEnum>(ref TEnum value) where TEnum : struct, Enum
    {
        var number = Convert.ToInt32(value, System.Globalization.CultureInfo.InvariantCulture);
        Walk(ref number);
        value = (TEnum)Enum.ToObject(typeof(TEnum), number);
    }

    public void Walk(ref string? value)
    {
        var length = value is null ? -1 : Encoding.UTF8.GetByteCount(value);
        Walk(ref length);
        if (IsLoading)
            value = length < 0 ? null : Encoding.UTF8.GetString(Take(length));
        else if (value is not null)
            Encoding.UTF8.GetBytes(value, Give(length));
    }

    public void Walk(ref double[] values)
    {
        var length = values.Length;
        Walk(ref length);
        if (IsLoading)
            values = new double[Bounded(length, sizeof(double))];
        for (var i = 0; i < length; i++)
            Walk(ref values[i]);
    }

    public void Walk(ref byte[] bytes)
    {
        var length = bytes.Length;
        Walk(ref length);
        if (IsLoading)
            bytes = Take(length).ToArray();
        else
            bytes.CopyTo(Give(length));
    }

    /// <summary>A list of parts, each with a walk of its own.</summary>
    public void Walk<T>(List<T> items, Func<T> make, Action<T> walkOne)
    {
        var count = items.Count;
        Walk(ref count);
        if (IsLoading)
        {
            items.Clear();
            for (var i = 0; i < Bounded(count, 1); i++)
                items.Add(make());
        }

        foreach (var item in items)
            walkOne(item);
    }

    /// <summary>Says that what was read cannot be.</summary>
    /// <exception cref="InvalidStateException">Always.</exception>
    public static void Refuse() => throw new InvalidStateException();

    private ReadOnlySpan<byte> Take(int count)
    {
        if (count < 0 || count > _source.Length - _place)
            Refuse();
        var span = _source.AsSpan(_place, count);
        _place += count;
        return span;
    }

    private int Bounded(int count, int leastSize)
    {
        if (count < 0 || (long)count * leastSize > _source.Length - _place)
            Refuse();
        return count;
    }

    private Span<byte> Give(int count)
    {
        var start = _written.Count;
        System.Runtime.InteropServices.CollectionsMarshal.SetCount(_written, start + count);
        return System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_written).Slice(start, count);
    }
}

/// <summary>A saved state that is cut short or damaged.</summary>
public sealed class InvalidStateException : Exception
{
    public InvalidStateException() : base("The saved state of the watch is damaged.") { }

    public InvalidStateException(string message) : base(message) { }

    public InvalidStateException(string message, Exception innerException) : base(message, innerException) { }
}
