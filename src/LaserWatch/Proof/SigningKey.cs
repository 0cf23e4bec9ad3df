using System.Security.Cryptography;

namespace LaserWatch.Proof;

/// <summary>The machine's own key, ECDSA on P-256 with SHA-256; made at the first run, and never sent anywhere.</summary>
/// <remarks>Who has the file can sign in its name: it is made readable for its owner alone. Public keys are told by their fingerprint, the SHA-256 of the key's SubjectPublicKeyInfo (DER).</remarks>
public sealed class SigningKey : IDisposable
{
    private const UnixFileMode OwnerOnly = UnixFileMode.UserRead | UnixFileMode.UserWrite;

    private readonly ECDsa _key;

    private SigningKey(ECDsa key, bool isNew, bool othersMayRead)
    {
        _key = key;
        IsNew = isNew;
        OthersMayRead = othersMayRead;
        PublicKey = key.ExportSubjectPublicKeyInfo();
    }

    /// <summary>It was made just now.</summary>
    public bool IsNew { get; }

    /// <summary>The file's mode lets other users read it.</summary>
    public bool OthersMayRead { get; }

    /// <summary>SubjectPublicKeyInfo, DER.</summary>
    public byte[] PublicKey { get; }

    public string Fingerprint => FingerprintOf(PublicKey);

    public static string FingerprintOf(ReadOnlySpan<byte> publicKey) => Digest.Of(publicKey).ToString();

    /// <summary>Reads the key, or makes it where the file is not there.</summary>
    /// <exception cref="EvidenceException">The file is there but holds no such key or may not be read, or it cannot be written; or the machine has no OpenSSL.</exception>
    public static SigningKey Open(string path)
    {
        try
        {
            if (!File.Exists(path) && Make(path) is { } made)
                return made;
            var key = NewKey();
            key.ImportFromPem(File.ReadAllText(path));
            if (key.ExportParameters(includePrivateParameters: false).Curve.Oid.Value != ECCurve.NamedCurves.nistP256.Oid.Value)
                throw new CryptographicException("it is on another curve than P-256");
            key.ExportPkcs8PrivateKey();
            var others = !OperatingSystem.IsWindows() && (File.GetUnixFileMode(path) & ~(OwnerOnly | UnixFileMode.UserExecute)) != 0;
            return new SigningKey(key, isNew: false, others);
        }
        catch (Exception e) when (e is CryptographicException or ArgumentException)
        {
            throw new EvidenceException(
                $"{path} holds no ECDSA key on P-256 in PEM ({e.Message.TrimEnd('.')}): put the right file back from a backup, or move it away and a new key is made, which does not undo what the old one signed.", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new EvidenceException($"the signing key {path} cannot be read or made ({e.Message.TrimEnd('.')}): give the agent's user the right to, and nobody else.", e);
        }
    }

    /// <summary>A signature over the bytes, DER encoded (RFC 3279) as other programs expect it.</summary>
    public byte[] Sign(ReadOnlySpan<byte> data) => _key.SignData(data, HashAlgorithmName.SHA256, DSASignatureFormat.Rfc3279DerSequence);

    /// <summary>True where the signature over the data is that of the key; false too where the key is none.</summary>
    /// <exception cref="EvidenceException">The machine has no OpenSSL.</exception>
    public static bool Verifies(ReadOnlySpan<byte> publicKey, ReadOnlySpan<byte> data, ReadOnlySpan<byte> signature)
    {
        using var key = NewKey();
        try
        {
            key.ImportSubjectPublicKeyInfo(publicKey, out var taken);
            return taken == publicKey.Length && key.VerifyData(data, signature, HashAlgorithmName.SHA256, DSASignatureFormat.Rfc3279DerSequence);
        }
        catch (Exception e) when (e is CryptographicException or PlatformNotSupportedException) // bytes that are no key, a key on a curve of no use here, or no signature
        {
            return false;
        }
    }

    public void Dispose() => _key.Dispose();

    private static ECDsa NewKey()
    {
        try
        {
            return ECDsa.Create();
        }
        catch (PlatformNotSupportedException e)
        {
            throw new EvidenceException($"signatures need the system's OpenSSL library, which was not found ({e.Message.TrimEnd('.')}): install it (Debian: libssl3).", e);
        }
    }

    /// <summary>Null where another process was faster.</summary>
    private static SigningKey? Make(string path)
    {
        OwnFiles.MakeFolder(Path.GetDirectoryName(path)!);
        var key = NewKey();
        key.GenerateKey(ECCurve.NamedCurves.nistP256);
        var unfinished = path + ".unfinished";
        var options = new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write, Share = FileShare.None };
        if (!OperatingSystem.IsWindows())
            options.UnixCreateMode = OwnerOnly;
        File.Delete(unfinished); // one left over may have another mode
        using (var file = new FileStream(unfinished, options))
        {
            file.Write(System.Text.Encoding.ASCII.GetBytes(key.ExportPkcs8PrivateKeyPem() + "\n"));
            file.Flush(flushToDisk: true);
        }

        try
        {
            File.Move(unfinished, path, overwrite: false);
            return new SigningKey(key, isNew: true, othersMayRead: false);
        }
        catch (IOException) when (File.Exists(path))
        {
            key.Dispose();
            File.Delete(unfinished);
            return null;
        }
    }
}
