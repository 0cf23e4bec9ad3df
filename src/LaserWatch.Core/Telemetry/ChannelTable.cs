using System.Diagnostics.CodeAnalysis;

namespace LaserWatch.Telemetry;

/// <summary>The channels known to one process: the canonical ones, and any others as they are met.</summary>
/// <remarks>
/// Not safe for several threads. Bounded, so that a sensor gone mad cannot fill the memory with names.
/// </remarks>
public sealed class ChannelTable
{
    /// <summary>Channels beyond the canonical ones that a table takes before it refuses more.</summary>
    public const int MostOthers = 1000;

    private readonly List<Channel> _all = [.. Channel.Canonical];
    private readonly Dictionary<string, Channel> _byName = Channel.Canonical.ToDictionary(c => c.Name);
    private readonly Dictionary<string, Channel>.AlternateLookup<ReadOnlySpan<char>> _bySpan;

    public ChannelTable() => _bySpan = _byName.GetAlternateLookup<ReadOnlySpan<char>>();

    public IReadOnlyList<Channel> All => _all;

    /// <summary>Finds the channel, and adds none.</summary>
    public bool TryFind(ReadOnlySpan<char> name, [NotNullWhen(true)] out Channel? channel) => _bySpan.TryGetValue(name, out channel);

    /// <summary>Finds the channel, or adds it. False where the name is not one, or the table is full.</summary>
    public bool TryGet(ReadOnlySpan<char> name, [NotNullWhen(true)] out Channel? channel) => TryGet(name, "", out channel);

    /// <summary>As <see cref="TryGet(ReadOnlySpan{char}, out Channel?)"/>; a channel that is added has the unit given, one found keeps its own.</summary>
    public bool TryGet(ReadOnlySpan<char> name, ReadOnlySpan<char> unitIfNew, [NotNullWhen(true)] out Channel? channel)
    {
        if (_bySpan.TryGetValue(name, out channel))
            return true;
        return IsValidName(name) && TryAdd(name.ToString(), unitIfNew.ToString(), out channel);
    }

    /// <summary>As <see cref="TryGet(ReadOnlySpan{char}, out Channel?)"/>, from UTF-8.</summary>
    public bool TryGet(ReadOnlySpan<byte> utf8Name, [NotNullWhen(true)] out Channel? channel)
    {
        channel = null;
        if (utf8Name.Length > 64)
            return false;
        Span<char> name = stackalloc char[64];
        for (var i = 0; i < utf8Name.Length; i++)
            name[i] = (char)utf8Name[i]; // beyond ASCII no name is valid, so Latin-1 is as good as any
        return TryGet(name[..utf8Name.Length], out channel);
    }

    /// <summary>Gives a channel that is not canonical its unit, before samples of it are met.</summary>
    /// <exception cref="ArgumentException">The name is not valid, or is known already, or the table is full.</exception>
    public Channel Declare(string name, string unit)
    {
        if (!IsValidName(name) || _byName.ContainsKey(name) || !TryAdd(name, unit, out var channel))
            throw new ArgumentException($"The channel '{name}' cannot be declared: not a valid name, known already, or too many.", nameof(name));
        return channel;
    }

    /// <summary>1 to 64 of <c>A-Z a-z 0-9 _ - .</c></summary>
    public static bool IsValidName(ReadOnlySpan<char> name)
    {
        if (name.Length is 0 or > 64)
            return false;
        foreach (var c in name)
        {
            if (!char.IsAsciiLetterOrDigit(c) && c is not ('_' or '-' or '.'))
                return false;
        }

        return true;
    }

    private bool TryAdd(string name, string unit, [NotNullWhen(true)] out Channel? channel)
    {
        channel = null;
        if (_all.Count >= Channel.Canonical.Count + MostOthers)
            return false;
        channel = new Channel(_all.Count, name, unit);
        _all.Add(channel);
        _byName.Add(name, channel);
        return true;
    }
}
