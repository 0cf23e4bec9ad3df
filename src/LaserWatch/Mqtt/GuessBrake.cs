using System.Net;
using System.Net.Sockets;

namespace LaserWatch.Mqtt;

/// <summary>Slows down who guesses passwords: a few tries at once, then one in a while, for each name at each address.</summary>
/// <remarks>
/// Counted by address, so that a guesser shuts out nobody elsewhere; and by name at it, so that one sensor with an old password
/// does not shut out those behind the same router. By hand: the base library's rate limiters cannot take a right try back, nor bound how many they keep. Bounded in memory, however many addresses come. Any thread may call this.
/// </remarks>
internal sealed class GuessBrake(TimeProvider time)
{
    /// <summary>Wrong tries of one name at one address before it has to wait.</summary>
    public const int TriesOfName = 5;

    /// <summary>Wrong tries of all names at one address.</summary>
    public const int TriesOfAddress = 50;

    public const int MostRemembered = 4096;

    /// <summary>Then another try is granted so often.</summary>
    public static readonly TimeSpan NameWait = TimeSpan.FromSeconds(30);
    public static readonly TimeSpan AddressWait = TimeSpan.FromSeconds(6);

    private const int LongestName = 64;
    private const string All = "";

    private readonly Lock _lock = new();
    private readonly Dictionary<(IPAddress Address, string User), Allowance> _used = [];

    public int Remembered
    {
        get
        {
            lock (_lock)
                return _used.Count;
        }
    }

    /// <summary>True where this login may be tried now. It counts as a wrong one until <see cref="WasRight"/>: many at once are no way round.</summary>
    public bool MayTry(IPAddress address, string? user)
    {
        var (name, all) = Keys(address, user);
        lock (_lock)
        {
            var now = time.GetTimestamp();
            if (Left(name, now) < 1 || Left(all, now) < 1)
                return false;
            Use(name, 1, now);
            Use(all, 1, now);
            return true;
        }
    }

    public void WasRight(IPAddress address, string? user)
    {
        var (name, all) = Keys(address, user);
        lock (_lock)
        {
            _used.Remove(name);
            Use(all, -1, time.GetTimestamp());
        }
    }

    private static ((IPAddress Address, string User) Name, (IPAddress Address, string User) All) Keys(IPAddress address, string? user)
    {
        var place = Place(address);
        var name = user ?? "";
        return ((place, "=" + (name.Length <= LongestName ? name : name[..LongestName])), (place, All));
    }

    // One customer of a provider has a whole /64 of IPv6.
    private static IPAddress Place(IPAddress address)
    {
        if (address.IsIPv4MappedToIPv6)
            return address.MapToIPv4();
        if (address.AddressFamily != AddressFamily.InterNetworkV6)
            return address;
        var bytes = address.GetAddressBytes();
        bytes.AsSpan(8).Clear();
        return new IPAddress(bytes);
    }

    private static (int Most, TimeSpan Wait) Limits(string user) => user == All ? (TriesOfAddress, AddressWait) : (TriesOfName, NameWait);

    private double Left((IPAddress Address, string User) key, long now)
    {
        var (most, wait) = Limits(key.User);
        return _used.TryGetValue(key, out var used) ? Math.Min(most, used.Left + (time.GetElapsedTime(used.At, now) / wait)) : most;
    }

    private void Use((IPAddress Address, string User) key, double tries, long now)
    {
        var left = Math.Min(Limits(key.User).Most, Left(key, now) - tries);
        if (!_used.ContainsKey(key) && _used.Count >= MostRemembered)
            _used.Remove(_used.MinBy(u => u.Value.At).Key);
        _used[key] = new(left, now);
    }

    private readonly record struct Allowance(double Left, long At);
}
