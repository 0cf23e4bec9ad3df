using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace LaserWatch.Mqtt;

/// <summary>A password as a salted, slow hash: PBKDF2 (RFC 8018) over HMAC-SHA-256, written <c>pbkdf2-sha256$rounds$salt$hash</c>.</summary>
/// <remarks>The base library hashes; it has no written form for the result, so that is ours.</remarks>
public sealed class PasswordHash
{
    /// <summary>A guess costs an attacker some tens of milliseconds, and so does each login here.</summary>
    public const int Rounds = 200_000;

    private const string Kind = "pbkdf2-sha256";
    private const int SaltBytes = 16;
    private const int HashBytes = 32;

    // A line made elsewhere may ask for others, but not for so many that a login holds up a processor.
    private const int LeastRounds = 10_000;
    private const int MostRounds = 2_000_000;

    private readonly int _rounds;
    private readonly byte[] _salt;
    private readonly byte[] _hash;

    private PasswordHash(int rounds, byte[] salt, byte[] hash)
    {
        _rounds = rounds;
        _salt = salt;
        _hash = hash;
    }

    /// <summary>Of a password, with a fresh salt.</summary>
    public static PasswordHash Of(string password)
    {
        var salt = RandomNumberGenerator.GetBytes(SaltBytes);
        return new(Rounds, salt, Derive(Encoding.UTF8.GetBytes(password), salt, Rounds));
    }

    public static bool TryParse(string text, [System.Diagnostics.CodeAnalysis.NotNullWhen(true)] out PasswordHash? hash)
    {
        hash = null;
        var parts = text.Split('$');
        var salt = new byte[64];
        var bytes = new byte[HashBytes + 1];
        if (parts is not [Kind, _, _, _]
            || !int.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out var rounds) || rounds is < LeastRounds or > MostRounds
            || !Convert.TryFromBase64String(parts[2], salt, out var saltLength) || saltLength < 8
            || !Convert.TryFromBase64String(parts[3], bytes, out var hashLength) || hashLength != HashBytes)
        {
            return false;
        }

        hash = new(rounds, salt[..saltLength], bytes[..hashLength]);
        return true;
    }

    /// <summary>Takes the same time whatever the password.</summary>
    public bool IsOf(ReadOnlySpan<byte> password) => CryptographicOperations.FixedTimeEquals(Derive(password, _salt, _rounds), _hash);

    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{Kind}${_rounds}${Convert.ToBase64String(_salt)}${Convert.ToBase64String(_hash)}");

    private static byte[] Derive(ReadOnlySpan<byte> password, byte[] salt, int rounds) =>
        Rfc2898DeriveBytes.Pbkdf2(password, salt, rounds, HashAlgorithmName.SHA256, HashBytes);
}
