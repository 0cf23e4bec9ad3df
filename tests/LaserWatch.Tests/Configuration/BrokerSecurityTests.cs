using LaserWatch.Cli;
using LaserWatch.Mqtt;

namespace LaserWatch.Configuration;

public sealed class BrokerSecurityTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("lw-config").FullName;

    private static readonly string Hash = PasswordHash.Of("x").ToString();

    [Theory]
    [InlineData("""{ "address": "0.0.0.0" }""", "embeddedBroker.address: '0.0.0.0' lets the whole network in, and no password is asked for")]
    [InlineData("""{ "address": "0.0.0.0", "allowPlain": true }""", "embeddedBroker.address: '0.0.0.0' lets the whole network in, and no password is asked for")]
    [InlineData("""{ "address": "192.168.1.2", "user": "shop", "password": { "env": "P" } }""", "embeddedBroker.address: '192.168.1.2' is beyond this machine, and passwords would go there in clear")]
    [InlineData("""{ "clients": [{ "user": "a", "password": { "env": "P" } }, { "user": "a", "password": { "env": "P" } }] }""", "embeddedBroker.clients[1].user: 'a' stands here twice")]
    [InlineData("""{ "user": "a", "password": { "env": "P" }, "clients": [{ "user": "a", "password": { "env": "P" } }] }""", "embeddedBroker.clients[0].user: 'a' stands here twice")]
    [InlineData("""{ "clients": [{ "user": "a" }] }""", "embeddedBroker.clients[0]: a client has exactly one password")]
    [InlineData("""{ "clients": [{ "password": { "env": "P" } }] }""", "embeddedBroker.clients[0]: the key 'user' is missing")]
    [InlineData("""{ "clients": [{ "user": "a\nb", "password": { "env": "P" } }] }""", "embeddedBroker.clients[0].user: it is not a name that can stand here")]
    [InlineData("""{ "clients": [{ "user": "a", "passwordHash": "secret" }] }""", "embeddedBroker.clients[0].passwordHash: it is not a hash as this program makes it")]
    [InlineData("""{ "clients": [{ "user": "a", "password": { "env": "P" }, "machines": ["Bay 1"] }] }""", "embeddedBroker.clients[0].machines[0]: 'Bay 1' is not a machine's name")]
    [InlineData("""{ "clients": [{ "user": "a", "password": { "env": "P" }, "maySample": false, "channels": ["power"] }] }""", "embeddedBroker.clients[0].channels: channels are named, but it may publish no samples")]
    [InlineData("""{ "tls": { "certificateFile": "a.pem" } }""", "embeddedBroker.tls: the key 'keyFile' is missing")]
    public void What_would_be_unsafe_or_cannot_be_is_a_mistake_of_the_configuration(string embedded, string mistake) =>
        Assert.Contains(Read($$"""{ "embeddedBroker": {{embedded}} }""").Mistakes, m => m.ToString().Contains(mistake, StringComparison.Ordinal));

    [Theory]
    [InlineData("""{ "address": "0.0.0.0", "allowPlain": true, "user": "shop", "password": { "env": "P" } }""")]
    [InlineData("""{ "address": "0.0.0.0", "clients": [{ "user": "a", "password": { "env": "P" } }], "tls": { "certificateFile": "a.pem", "keyFile": "a.key" } }""")]
    [InlineData("""{ "user": "shop", "password": { "env": "P" } }""")]
    public void What_is_safe_or_wanted_so_is_taken(string embedded) => Assert.Empty(Read($$"""{ "embeddedBroker": {{embedded}} }""").Mistakes);

    [Fact]
    public void The_secret_files_of_every_part_are_found()
    {
        var options = Read($$"""
            {
              "broker": { "user": "l", "password": { "file": "a" }, "tls": { "enabled": true, "certificateFile": "c", "keyFile": "b" } },
              "embeddedBroker": { "clients": [{ "user": "x", "password": { "file": "d" } }, { "user": "y", "passwordHash": "{{Hash}}" }], "tls": { "certificateFile": "c", "keyFile": "e" } },
              "commands": { "user": "u", "password": { "file": "f" }, "certificateFile": "c", "keyFile": "g" }
            }
            """).Value!;

        Assert.Equal(["a", "b", "d", "e", "f", "g"], SecretFiles.Of(options).Select(f => Path.GetRelativePath(_folder, f)).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void The_command_line_comes_as_the_environment_says_or_else_as_the_configuration()
    {
        var options = Read("""
            { "embeddedBroker": { "clients": [{ "user": "ana", "password": { "env": "P" } }] }, "commands": { "user": "desk", "password": { "env": "D" } } }
            """).Value!;
        Assert.Equal(("desk", "D"), Login(BrokerOf.Clients(options, _ => null)));
        Assert.Equal(("ana", "LASERWATCH_PASSWORD"), Login(BrokerOf.Clients(options, name => name == "LASERWATCH_USER" ? "ana" : null)));

        var fault = Assert.Throws<CommandException>(() => BrokerOf.Clients(options with { Commands = new() }, _ => null));
        Assert.StartsWith("the embedded broker lets in named clients only", fault.Message, StringComparison.Ordinal);

        var outside = new LaserWatchOptions { Broker = new() { Host = "broker", User = "laserwatch", Password = new() { Env = "B" } } };
        Assert.Equal(("laserwatch", "B"), Login(BrokerOf.Clients(outside, _ => null)));
        Assert.Equal("k", BrokerOf.Clients(outside with { Commands = new() { CertificateFile = "c", KeyFile = "k" } }, _ => null).Tls.KeyFile);
    }

    private static (string? User, string? Env) Login(ConfiguredBroker broker) => (broker.User, broker.Password?.Env);

    [Fact]
    public void Who_shares_the_agents_file_needs_none_of_its_secrets_and_the_agent_none_of_the_command_line()
    {
        const string Json = """
            { "embeddedBroker": { "user": "shop", "password": { "file": "absent" } }, "commands": { "user": "ana", "password": { "env": "ABSENT" } } }
            """;

        Assert.Equal(["embeddedBroker.password.file"], Read(Json, secrets: true).Mistakes.Select(m => m.Path));
        Assert.Empty(Read(Json).Mistakes);
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private ConfigurationRead<LaserWatchOptions> Read(string json, bool secrets = false)
    {
        var file = Path.Combine(_folder, "laserwatch.json");
        File.WriteAllText(file, json);
        return secrets ? ConfigurationFile.Read(file, _ => null) : ConfigurationFile.ReadAsPerson(file);
    }
}
