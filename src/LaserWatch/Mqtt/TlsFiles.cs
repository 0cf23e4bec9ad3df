using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;

namespace LaserWatch.Mqtt;

/// <summary>A file of TLS cannot be used.</summary>
public sealed class TlsFileException(string what, string mend, Exception? inner = null) : IOException($"{what}; {mend}", inner)
{
    public string What { get; } = what;

    public string Mend { get; } = mend;
}

/// <summary>Reads certificates and keys in PEM; every mistake names its configuration key and the file.</summary>
internal static class TlsFiles
{
    /// <summary>Those who vouch for others.</summary>
    /// <exception cref="TlsFileException">The file cannot be read, or holds no certificate.</exception>
    public static X509Certificate2Collection Authorities(string key, string file)
    {
        var found = new X509Certificate2Collection();
        Read(key, file, () => found.ImportFromPemFile(file));
        return found.Count > 0 ? found : throw new TlsFileException($"{key}: {file} holds no certificate", "give a PEM file with the lines of BEGIN CERTIFICATE");
    }

    /// <summary>A certificate with its key, and those that stand after it in its file.</summary>
    /// <param name="section">The configuration section of the keys <c>certificateFile</c> and <c>keyFile</c>.</param>
    /// <exception cref="TlsFileException">A file cannot be read, they do not belong together, or the certificate's time is over.</exception>
    public static (X509Certificate2 Own, X509Certificate2Collection Chain) Identity(string section, string certificateFile, string keyFile, TimeProvider time)
    {
        var chain = Authorities(section + ".certificateFile", certificateFile);
        X509Certificate2? own = null;
        Read(section + ".keyFile", keyFile, () =>
        {
            using var pem = X509Certificate2.CreateFromPemFile(certificateFile, keyFile);

            // By way of PKCS #12, because Windows cannot use a key that lives in memory only.
            own = X509CertificateLoader.LoadPkcs12(pem.Export(X509ContentType.Pkcs12), null);
        });
        chain.RemoveAt(0);
        if (own!.NotAfter.ToUniversalTime() >= time.GetUtcNow().UtcDateTime)
            return (own, chain);
        using (own)
        {
            throw new TlsFileException(
                $"{section}.certificateFile: the certificate in {certificateFile} has expired on {Day(own.NotAfter)}", "have it renewed, and check this machine's clock");
        }
    }

    public static string Day(DateTime local) => Telemetry.Instant.From(new DateTimeOffset(local.ToUniversalTime())).ToString()![..10];

    private static void Read(string key, string file, Action read)
    {
        try
        {
            // The library's own words for a file that is not there speak of the other one at times.
            using (File.OpenRead(file))
            {
            }

            read();
        }
        catch (Exception e) when (e is CryptographicException or ArgumentException)
        {
            throw new TlsFileException(
                $"{key}: {file} cannot be used ({e.Message.ReplaceLineEndings(" ").TrimEnd('.')})", "give PEM files, a key without a passphrase, and the key that belongs to the certificate", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new TlsFileException($"{key}: {file} cannot be read ({e.Message.TrimEnd('.')})", "name a file that the agent's user may read", e);
        }
    }
}
