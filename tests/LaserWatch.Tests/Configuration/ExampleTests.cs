using System.Text.Json.Nodes;
using System.Text.Json.Serialization.Metadata;

namespace LaserWatch.Configuration;

/// <summary>What the files in <c>config/</c> teach is what the program does.</summary>
public class ExampleTests
{
    private static readonly string Example = Path.Combine(Repository.Folder, "config", "laserwatch.json");

    [Fact]
    public void The_example_works_as_it_is()
    {
        var read = ConfigurationFile.Read(Example);

        Assert.Empty(read.Mistakes);
        Assert.Equal(["birch-6-cut", "acrylic-3-cut", "felt-3-cut", "slate-raster"], read.Value!.JobRecords.Select(r => r.Job));
        Assert.Equal(["air_pressure", "coolant_in", "coolant_flow"], read.Value.TopicRules().Select(r => r.Channel));
        Assert.Equal(28, read.Value.RulesOf("bay1").Coolant.HotCelsius);
        Assert.Equal(
            new Life.TubeLifeOptions { RatedHours = 3000, RatedMonths = 24, Installed = Telemetry.Instant.From(new DateTimeOffset(2026, 1, 5, 0, 0, 0, TimeSpan.Zero)) },
            read.Value.RulesOf("bay1").TubeLife);
    }

    [Fact]
    public void The_example_shows_every_setting_with_its_default()
    {
        var shown = JsonNode.Parse(File.ReadAllText(Example), null, new() { CommentHandling = System.Text.Json.JsonCommentHandling.Skip })!.AsObject();
        shown.Remove("$schema");
        shown.Remove("machines");

        var standard = Defaults(LaserWatchOptions.Default);
        standard.Remove("$schema");
        standard.Remove("machines");
        Assert.Equal(standard.ToJsonString(), shown.ToJsonString());
    }

    // Null where a password would stand, an object elsewhere: what a reader of the file can write.
    private static JsonObject Defaults(object record)
    {
        var json = new JsonObject();
        foreach (var property in ConfigurationJson.Options.GetTypeInfo(record.GetType()).Properties)
        {
            var value = property.Get!(record);
            json[property.Name] = value is not null && ConfigurationJson.Options.GetTypeInfo(property.PropertyType).Kind == JsonTypeInfoKind.Object
                ? Defaults(value)
                : System.Text.Json.JsonSerializer.SerializeToNode(value, property.PropertyType, ConfigurationJson.Options);
        }

        return json;
    }
}
