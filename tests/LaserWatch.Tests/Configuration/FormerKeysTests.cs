using LaserWatch.Storage;

namespace LaserWatch.Configuration;

public sealed class FormerKeysTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("""{ "delivery": { "escalation": [] } }""", "delivery.escalation", "ifUnanswered")]
    [InlineData("""{ "delivery": { "webhooks": { "a": { "url": "http://x/", "quietHours": null } } } }""", "delivery.webhooks.a.quietHours", "restHours")]
    [InlineData("""{ "delivery": { "mail": { "a": { "host": "h", "from": "a@b", "to": ["a@b"], "digestAt": [] } } } }""", "delivery.mail.a.digestAt", "gatherAt")]
    [InlineData("""{ "delivery": { "hooks": { "a": { "executable": "/x", "digestUpTo": "low" } } } }""", "delivery.hooks.a.digestUpTo", "gatherUpTo")]
    [InlineData("""{ "health": { "ping": { "url": "http://x/" } } }""", "health.ping", "signOfLife")]
    public void A_key_of_a_former_name_is_not_read_and_one_line_names_the_new_one(string json, string where, string today) =>
        Assert.Equal($"{Path}:1: {where}: this key has another name now: write '{today}'", Assert.Single(Read(json)).ToString());

    [Theory]
    [InlineData("""{ "log": { "ping": 1 } }""")]
    [InlineData("""{ "escalation": [] }""")]
    public void Where_the_new_name_means_nothing_the_old_one_is_any_unknown_key(string json) =>
        Assert.Contains("there is no such key", Assert.Single(Read(json)).ToString(), StringComparison.Ordinal);

    private string Path => _folder.File("laserwatch.json");

    private IReadOnlyList<ConfigurationMistake> Read(string json)
    {
        File.WriteAllText(Path, json);
        return ConfigurationFile.Read(Path).Mistakes;
    }
}
