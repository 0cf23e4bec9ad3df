using System.ComponentModel.DataAnnotations;
using System.Reflection;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Serialization.Metadata;
using Json.Schema;

namespace LaserWatch.Configuration;

/// <summary>To write the schemas anew after a change of a record, run these tests with LASERWATCH_REWRITE_GOLDEN=1.</summary>
public class SchemaTests
{
    private static readonly string ConfigFolder = Path.Combine(Repository.Folder, "config");

    [Theory]
    [InlineData("laserwatch.schema.json", typeof(LaserWatchOptions), "LaserWatch configuration")]
    [InlineData("jobs.schema.json", typeof(JobsOptions), "LaserWatch job records")]
    [InlineData("causes.schema.json", typeof(CausesOptions), "LaserWatch causes of a spoilt cut")]
    public void The_schema_in_the_repository_is_the_one_of_the_records(string file, Type type, string title)
    {
        var path = Path.Combine(ConfigFolder, file);
        var schema = SchemaWriter.Write(type, title);
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
            File.WriteAllText(path, schema);

        Assert.Equal(schema, File.ReadAllText(path).ReplaceLineEndings("\n"));
    }

    [Theory]
    [InlineData("laserwatch.json", "laserwatch.schema.json")]
    [InlineData("jobs.json", "jobs.schema.json")]
    [InlineData("causes.json", "causes.schema.json")]
    public void The_examples_keep_to_their_schema(string file, string schema) =>
        Assert.True(IsValid(schema, File.ReadAllText(Path.Combine(ConfigFolder, file))));

    [Theory]
    [InlineData("""{ "log": { "levle": "debug" } }""")]
    [InlineData("""{ "log": { "level": "Debug" } }""")]
    [InlineData("""{ "log": { "keepFiles": 0 } }""")]
    [InlineData("""{ "log": { "keepFiles": 2.5 } }""")]
    [InlineData("""{ "broker": { "port": "1883" } }""")]
    [InlineData("""{ "broker": { "password": "literal" } }""")]
    [InlineData("""{ "broker": { "password": { "env": "A", "file": "b" } } }""")]
    [InlineData("""{ "broker": { "topicRoot": "a/#" } }""")]
    [InlineData("""{ "broker": { "clientId": null } }""")]
    [InlineData("""{ "machines": { "Bay 1": { } } }""")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "a", "calibration": [ { "kind": "thermocouple" } ] } ] } } }""")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "a", "calibration": [ { "r0Ohms": 100 } ] } ] } } }""")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "a", "calibration": [ { "kind": "rtd", "r0": 100 } ] } ] } } }""")]
    [InlineData("""{ "machines": { "bay1": { "rules": { "airPresure": { } } } } }""")]
    [InlineData("[]")]
    public void A_wrong_configuration_does_not_keep_to_it(string json)
    {
        Assert.False(IsValid("laserwatch.schema.json", json));
        Assert.NotEmpty(ReaderMistakes<LaserWatchOptions>(json));
    }

    [Theory]
    [InlineData("""{ "jobs": [ { "job": "felt" } ] }""")]
    [InlineData("""{ "jobs": [ { "recordedAt": "2026-03-09" } ] }""")]
    [InlineData("""{ "jobs": [ { "job": "felt", "recordedAt": "9 March" } ] }""")]
    [InlineData("""{ "jobs": [ { "job": "felt", "recordedAt": "2026-03-09T08:00:00" } ] }""")]
    [InlineData("""{ "jobs": [ { "job": " felt", "recordedAt": "2026-03-09" } ] }""")]
    [InlineData("""{ "jobs": [ { "job": "felt", "recordedAt": "2026-03-09", "power": 101 } ] }""")]
    [InlineData("""{ "jobs": [ { "job": "felt", "recordedAt": "2026-03-09", "mode": "cut" } ] }""")]
    public void Wrong_job_records_do_not_keep_to_it(string json)
    {
        Assert.False(IsValid("jobs.schema.json", json));
        Assert.NotEmpty(ReaderMistakes<JobsOptions>(json));
    }

    [Theory]
    [InlineData("""{ }""")]
    [InlineData("""{ "broker": { "host": null, "user": "u", "password": { "env": "A" } }, "log": { "level": "warning", "folder": "log" } }""")]
    [InlineData("""{ "machines": { "bay1": { "tube": { "installed": "2026-03-09", "ratedHours": null }, "sensors": [ { "channel": "coolant_in", "unit": "°F", "calibration": [ { "fixedOhms": 4700, "kind": "divider" }, { "kind": "ntc-beta" } ] } ] } } }""")]
    public void A_right_configuration_keeps_to_it_and_the_reader_thinks_so_too(string json)
    {
        Assert.True(IsValid("laserwatch.schema.json", json));
        Assert.Equal(json.Contains("°F", StringComparison.Ordinal) ? 1 : 0, ReaderMistakes<LaserWatchOptions>(json).Count);
    }

    [Fact]
    public void Every_setting_has_a_comment_and_every_number_a_bound()
    {
        var bare = Settings(typeof(LaserWatchOptions), []).Concat(Settings(typeof(JobsOptions), [])).Concat(Settings(typeof(CausesOptions), []))
            .Where(p => Documentation.Of(p) is not { Length: > 0 } || (IsNumber(p.PropertyType) && !IsInUnitOfTheSensor(p) && p.GetCustomAttribute<RangeAttribute>() is null))
            .Select(p => $"{p.DeclaringType!.Name}.{p.Name}");

        Assert.Empty(bare);
    }

    // What a calibration maps from and to can be any number; the steps check them together.
    private static bool IsInUnitOfTheSensor(PropertyInfo property) => property.DeclaringType!.Namespace == "LaserWatch.Calibration";

    private static bool IsNumber(Type type) => (Nullable.GetUnderlyingType(type) ?? type) is var plain && (plain == typeof(double) || plain == typeof(int));

    private static IEnumerable<PropertyInfo> Settings(Type type, HashSet<Type> met)
    {
        var info = ConfigurationJson.Options.GetTypeInfo(Nullable.GetUnderlyingType(type) ?? type);
        if (!met.Add(type))
            return [];
        return info.Kind switch
        {
            _ when info.PolymorphismOptions is { } kinds => kinds.DerivedTypes.SelectMany(k => Settings(k.DerivedType, met)),
            JsonTypeInfoKind.Object => info.Properties.SelectMany(p => Settings(p.PropertyType, met).Prepend((PropertyInfo)p.AttributeProvider!)),
            JsonTypeInfoKind.Enumerable or JsonTypeInfoKind.Dictionary => Settings(info.ElementType!, met),
            _ => [],
        };
    }

    private static bool IsValid(string schema, string json)
    {
        using var document = JsonDocument.Parse(json, new() { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
        return JsonSchema.FromText(File.ReadAllText(Path.Combine(ConfigFolder, schema))).Evaluate(document.RootElement).IsValid;
    }

    private static List<ConfigurationMistake> ReaderMistakes<T>(string json)
        where T : class
    {
        var mistakes = new List<ConfigurationMistake>();
        _ = new RecordReader("f", mistakes).Read<T>(ConfigurationText.Parse("f", Encoding.UTF8.GetBytes(json), mistakes)!);
        return mistakes;
    }
}
