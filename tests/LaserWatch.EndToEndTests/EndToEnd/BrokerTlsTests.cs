using LaserWatch.Mqtt;

namespace LaserWatch.EndToEnd;

/// <summary>Everything that goes wrong between the agent and a mosquitto with TLS: one line, with the cause and the mend.</summary>
public sealed class BrokerTlsTests
{
    [SkippableTheory]
    [InlineData("IP:127.0.0.1", 1, false, "stranger.pem", "", "made by 'CN=ca of the shop', and ", "name in broker.tls.caFile the certificate of the authority that made the broker's")]
    [InlineData("IP:127.0.0.1", -1, false, "ca.pem", "", "the broker's certificate has expired on ", "have it renewed at the broker, and check this machine's clock")]
    [InlineData("DNS:broker.shop.example", 1, false, "ca.pem", "", "the broker's certificate is for broker.shop.example, and not for 127.0.0.1", "write one of its names in broker.host, or have it made for this one too")]
    [InlineData("IP:127.0.0.1", 1, true, "ca.pem", "", "it seems to ask for a client certificate, and none is configured", "set broker.tls.certificateFile and keyFile")]
    [InlineData("IP:127.0.0.1", 1, true, "ca.pem", "foreign", "it seems not to accept our certificate ", "have broker.tls.certificateFile made by an authority that the broker trusts")]
    [InlineData("IP:127.0.0.1", 1, true, "ca.pem", "old", "broker.tls.certificateFile: the certificate in ", "have it renewed, and check this machine's clock")]
    [InlineData("IP:127.0.0.1", 1, true, "ca.pem", "mixed", "broker.tls.keyFile: ", "give PEM files, a key without a passphrase, and the key that belongs to the certificate")]
    public async Task Check_says_in_one_line_why_the_broker_is_not_reached(
        string names, int days, bool wantsCertificate, string caFile, string certificate, string what, string mend)
    {
        await using var broker = await StartAsync(names, days, wantsCertificate);
        using var folder = new AgentFolder();
        Configure(folder, broker, caFile, certificate switch { "" => null, "mixed" => ("agent", "old"), _ => (certificate, certificate) });

        var (exitCode, _, error) = await AgentProcess.RunAsync("check", "--config", folder.Config, "--listen", "0.5");

        Assert.Equal(3, exitCode);
        var line = Assert.Single(error.Split('\n', StringSplitOptions.RemoveEmptyEntries));
        Assert.Contains(what, line, StringComparison.Ordinal);
        Assert.Contains(mend, line, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task With_its_certificate_and_password_the_agent_gets_in()
    {
        await using var broker = await StartAsync("IP:127.0.0.1", 1, wantsCertificate: true);
        using var folder = new AgentFolder();
        Configure(folder, broker, "ca.pem", ("agent", "agent"));

        var (exitCode, output, _) = await AgentProcess.RunAsync("check", "--config", folder.Config, "--listen", "0.5");

        Assert.Equal(1, exitCode); // nothing was heard; the broker is good
        Assert.Contains($"broker 127.0.0.1:{broker.Port}: good", output, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_plain_port_where_TLS_is_expected_is_not_taken_for_one_that_misses_a_certificate()
    {
        Needs.Program("openssl");
        await using var broker = await RealBroker.StartAsync(files: folder => _ = new OpensslAuthority(folder));
        using var folder = new AgentFolder();
        Configure(folder, broker, "ca.pem", null);

        var (exitCode, _, error) = await AgentProcess.RunAsync("check", "--config", folder.Config, "--listen", "0.5");

        Assert.Equal(3, exitCode);
        Assert.Contains("check that this port speaks TLS", error, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task A_password_that_was_changed_is_taken_up_without_a_restart()
    {
        await using var broker = await StartAsync("IP:127.0.0.1", 1, wantsCertificate: false);
        using var folder = new AgentFolder();
        Configure(folder, broker, "ca.pem", null);
        using var agent = folder.Run();
        await agent.SaysAsync("Connected to the broker");

        SecureMosquitto.SetPassword(broker.Folder, "laserwatch", "another");
        await broker.StopAsync();
        await broker.RestartAsync();
        await agent.SaysAsync("check broker.user and broker.password");
        File.WriteAllText(folder.Config + ".secret", "another\n");
        await Eventually.HoldsAsync(() => Occurrences(agent.Output) > 1, () => $"the agent connects with the new password; it said:\n{agent.Output}");
    }

    private static int Occurrences(string output) => output.Split("Connected to the broker").Length - 1;

    private static Task<RealBroker> StartAsync(string names, int days, bool wantsCertificate) => SecureMosquitto.StartAsync(
        folder =>
        {
            var shop = new OpensslAuthority(folder);
            shop.Issue("broker", names, days);
            shop.Issue("agent", null);
            shop.Issue("old", null, -1);
            new OpensslAuthority(folder, "stranger").Issue("foreign", null);
        },
        line => wantsCertificate ? line.Replace("require_certificate false", "require_certificate true", StringComparison.Ordinal) : line);

    private static void Configure(AgentFolder folder, RealBroker broker, string caFile, (string Certificate, string Key)? own)
    {
        File.WriteAllText(folder.Config + ".secret", SecureMosquitto.PasswordOf("laserwatch") + "\n");
        var files = own is not { } pair ? "" : $$""", "certificateFile": "{{broker.Folder}}/{{pair.Certificate}}.pem", "keyFile": "{{broker.Folder}}/{{pair.Key}}.key" """;
        File.WriteAllText(folder.Config, $$"""
            {
              "broker": {
                "host": "127.0.0.1", "port": {{broker.Port}}, "user": "laserwatch", "password": { "file": "laserwatch.json.secret" },
                "tls": { "enabled": true, "caFile": "{{broker.Folder}}/{{caFile}}"{{files}} }
              },
              "store": { "path": "laserwatch.db" },
              "health": { "port": 0 }
            }
            """);
        if (!OperatingSystem.IsWindows())
            File.SetUnixFileMode(folder.Config + ".secret", UnixFileMode.UserRead | UnixFileMode.UserWrite);
    }
}
