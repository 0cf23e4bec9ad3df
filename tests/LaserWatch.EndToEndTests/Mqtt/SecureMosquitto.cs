using System.Diagnostics;
using LaserWatch.Configuration;

namespace LaserWatch.Mqtt;

/// <summary>A mosquitto as config/mosquitto-tls.conf and config/mosquitto.acl set it up, on a loopback port.</summary>
internal static class SecureMosquitto
{
    /// <param name="files">Writes broker.pem, broker.key and ca.pem into the folder.</param>
    /// <param name="change">Changes the settings of the file.</param>
    public static Task<RealBroker> StartAsync(Action<string> files, Func<string, string>? change = null)
    {
        Needs.Program("openssl");
        Needs.Program("mosquitto_passwd");
        var config = Path.Combine(Repository.Folder, "config");
        var settings = File.ReadLines(Path.Combine(config, "mosquitto-tls.conf"))
            .Where(line => line.Length > 0 && line[0] != '#' && !line.StartsWith("listener", StringComparison.Ordinal))
            .Select(line => line.Replace("/etc/mosquitto/", "FOLDER/", StringComparison.Ordinal))
            .Select(change ?? (line => line));
        return RealBroker.StartAsync([.. settings], folder =>
        {
            files(folder);
            File.Copy(Path.Combine(config, "mosquitto.acl"), Path.Combine(folder, "laserwatch.acl"));
            File.WriteAllText(Path.Combine(folder, "passwords"), "");
            foreach (var user in new[] { "laserwatch", "bay1", "bay1-air", "bay1-controller", "ana", "board", "training" })
                SetPassword(folder, user, PasswordOf(user));
        });
    }

    public static string PasswordOf(string user) => $"secret of {user}";

    public static void SetPassword(string folder, string user, string password)
    {
        using var process = Process.Start(Needs.Program("mosquitto_passwd"), ["-b", Path.Combine(folder, "passwords"), user, password]);
        process.WaitForExit();
        Assert.Equal(0, process.ExitCode);
    }

    /// <summary>The login of mosquitto's clients.</summary>
    public static string[] Login(RealBroker broker, string user) =>
        ["--cafile", Path.Combine(broker.Folder, "ca.pem"), "-u", user, "-P", PasswordOf(user)];
}
