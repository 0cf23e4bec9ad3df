using System.Diagnostics;

namespace LaserWatch.Mqtt;

/// <summary>A shop's own authority for certificates, made by the openssl program as config/mosquitto-tls.conf says.</summary>
internal sealed class OpensslAuthority
{
    private readonly string _folder;
    private readonly string _name;

    public OpensslAuthority(string folder, string name = "ca")
    {
        _folder = folder;
        _name = name;
        Run("req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-keyout", $"{name}.key", "-out", $"{name}.pem", "-subj", $"/CN={name} of the shop", "-days", "2");
    }

    /// <summary>Writes NAME.pem and NAME.key.</summary>
    /// <param name="names">Of a server, such as <c>IP:127.0.0.1</c>; null: it is a client's.</param>
    /// <param name="days">Less than 0: it has expired.</param>
    public void Issue(string name, string? names, int days = 1)
    {
        File.WriteAllText(Path.Combine(_folder, name + ".ext"), names is null ? "extendedKeyUsage=clientAuth\n" : $"extendedKeyUsage=serverAuth\nsubjectAltName={names}\n");
        Run("req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-keyout", name + ".key", "-out", name + ".csr", "-subj", $"/CN={name}");
        Run("x509", "-req", "-in", name + ".csr", "-CA", $"{_name}.pem", "-CAkey", $"{_name}.key", "-CAcreateserial", "-out", name + ".pem", "-days", $"{days}", "-extfile", name + ".ext");
    }

    private void Run(params string[] arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(Needs.Program("openssl"), arguments) { WorkingDirectory = _folder, RedirectStandardError = true })!;
        var said = process.StandardError.ReadToEnd();
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, said);
    }
}
