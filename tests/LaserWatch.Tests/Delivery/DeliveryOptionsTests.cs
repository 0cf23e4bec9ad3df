using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Storage;

namespace LaserWatch.Delivery;

public sealed class DeliveryOptionsTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    [Fact]
    public void A_sound_delivery_is_read_with_its_paths_beside_the_file()
    {
        File.WriteAllText(_folder.File("mail-password"), "x");
        var read = Read("""
            { "delivery": {
              "timeZone": "Europe/Berlin",
              "webhooks": { "office": { "url": "https://shop.example/alarms", "secret": { "env": "OFFICE" }, "atLeast": "medium", "conditions": ["exhaust-vacuum-out-of-limits"] } },
              "mail": { "ana": { "host": "mail.shop.example", "user": "laser", "password": { "file": "mail-password" }, "from": "laser@shop.example", "to": ["ana@shop.example"],
                "restHours": { "from": "21:00" }, "transitions": ["raised", "set-aside"] } },
              "hooks": { "lamp": { "executable": "/bin/sh", "arguments": ["-c", "true"] } },
              "ifUnanswered": [ { "to": ["lamp", "ana"] } ] } }
            """);

        Assert.Empty(read.Mistakes);
        var delivery = read.Value!.Delivery;
        Assert.Equal(["office", "ana", "lamp"], delivery.Outlets().Select(o => o.Key));
        Assert.Equal(_folder.File("mail-password"), delivery.Mail["ana"].Password!.File);
        Assert.Equal([AlarmTransition.Raised, AlarmTransition.SetAside], delivery.Mail["ana"].Transitions);
        Assert.Equal(("21:00", "07:00", AlarmPriority.High), (delivery.Mail["ana"].RestHours!.From, delivery.Mail["ana"].RestHours!.To, delivery.Mail["ana"].RestHours!.Below));
        Assert.Equal(["07:00"], delivery.Mail["ana"].GatherAt);
        Assert.Empty(delivery.Webhooks["office"].GatherAt);
        Assert.Equal((15, AlarmPriority.High), (delivery.IfUnanswered[0].AfterMinutes, delivery.IfUnanswered[0].AtLeast));
    }

    [Theory]
    [InlineData("""{ "timeZone": "Mars/Olympus" }""", "delivery.timeZone: there is no time zone 'Mars/Olympus': write its name as in \"Europe/Berlin\", or null for this machine's own")]
    [InlineData("""{ "webhooks": { "a": { "url": "ftp://x" } } }""", "delivery.webhooks.a.url: 'ftp://x' is not an HTTP address: write it as in \"https://shop.example/alarms\"")]
    [InlineData("""{ "webhooks": { "a": { } } }""", "delivery.webhooks.a: the key 'url' is missing: add it, with text in quotes")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://u:p@x/" } } }""", "delivery.webhooks.a.url: a user or a fragment does not belong to the address: write the address alone; a token has its own key")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://shop.example/", "token": { "env": "OFFICE" } } } }""", "delivery.webhooks.a.token: over http anybody on the way could read it: write https in 'url', or sign by 'secret' instead")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/", "secret": { "env": "ABSENT" } } } }""", "delivery.webhooks.a.secret.env: the environment variable 'ABSENT' is not set, or empty: set it where the agent is started")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/", "secret": "hunter2" } } }""", "delivery.webhooks.a.secret: a secret must not stand in this file: write {\"env\": \"NAME\"} or {\"file\": \"path\"}, which say where it stands")]
    [InlineData("""{ "webhooks": { "a": { "url": "https://x/", "caFile": "/absent.pem" } } }""", "delivery.webhooks.a.caFile: there is no file '/absent.pem': name one that is there")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/", "conditions": ["coolant-hit"] } } }""", "delivery.webhooks.a.conditions[0]: there is no condition 'coolant-hit': did you mean 'coolant-hot'?")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/", "gatherAt": ["7:00"] } } }""", "delivery.webhooks.a.gatherAt[0]: '7:00' is no time of day: write it as in \"07:00\"")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/", "restHours": { "from": "24:00" } } } }""", "delivery.webhooks.a.restHours.from: \"24:00\" is not allowed: write a time of day as in \"22:00\"")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/", "restHours": { "from": "07:00" } } } }""", "delivery.webhooks.a.restHours.to: rest hours that end when they begin: write two different times, or null for none")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/" } }, "hooks": { "a": { "executable": "/bin/sh" } } }""", "delivery: two outlets are called 'a': give each a name of its own")]
    [InlineData("""{ "webhooks": { "a": { "url": "http://x/" } }, "ifUnanswered": [ { "to": ["a", "b"] } ] }""", "delivery.ifUnanswered[0].to[1]: there is no outlet 'b': name one of a")]
    [InlineData("""{ "ifUnanswered": [ { "to": [] } ] }""", "delivery.ifUnanswered[0].to: nobody to tell it to: name an outlet")]
    [InlineData("""{ "hooks": { "a": { "executable": "lamp" } } }""", "delivery.hooks.a.executable: 'lamp' is no absolute path: write the whole path, so that no other program of that name can be run")]
    [InlineData("""{ "hooks": { "a": { "executable": "/absent/lamp" } } }""", "delivery.hooks.a.executable: there is no file '/absent/lamp': name a program that is there")]
    [InlineData("""{ "mail": { "a": { "host": "m", "from": "nobody", "to": ["ana@x"] } } }""", "delivery.mail.a.from: 'nobody' is no mail address: write it as in \"laserwatch@shop.example\"")]
    [InlineData("""{ "mail": { "a": { "host": "m", "from": "a@x", "to": ["ana@x", "eve@x\r\nBcc: all@x"] } } }""", "delivery.mail.a.to[1]: 'eve@x\\r\\nBcc: all@x' is no mail address: write it as in \"ana@shop.example\"")]
    [InlineData("""{ "mail": { "a": { "host": "m", "from": "a@x", "to": ["ana@x"], "user": "u" } } }""", "delivery.mail.a.user: user and password belong together: give both, or none")]
    [InlineData("""{ "mail": { "a": { "host": "m", "from": "a@x", "to": ["ana@x"], "security": "none" } } }""", "delivery.mail.a.security: without encryption anybody on the way reads the mails: use \"start-tls\" or \"tls\", or write \"allowPlain\": true if that is meant")]
    public void What_is_wrong_is_told_with_its_place_and_its_mend(string delivery, string expected)
    {
        var mistake = Assert.Single(Read($$"""{ "delivery": {{delivery}} }""").Mistakes);

        Assert.Equal(expected, $"{mistake.Path}: {mistake.What}: {mistake.Mend}".Replace("\r\n", "\\r\\n", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("""{ "host": "127.0.0.1", "from": "a@x", "to": ["ana@x"], "security": "none" }""")]
    [InlineData("""{ "host": "mail.shop.example", "from": "a@x", "to": ["ana@x"], "security": "none", "allowPlain": true }""")]
    public void A_mail_server_on_this_machine_or_one_that_is_allowed_to_needs_no_encryption(string mail) =>
        Assert.Empty(Read($$"""{ "delivery": { "mail": { "a": {{mail}} } } }""").Mistakes);

    public void Dispose() => _folder.Dispose();

    private ConfigurationRead<LaserWatchOptions> Read(string json)
    {
        File.WriteAllText(_folder.File("laserwatch.json"), json);
        return ConfigurationFile.Read(_folder.File("laserwatch.json"), name => name == "OFFICE" ? "secret" : null);
    }
}
