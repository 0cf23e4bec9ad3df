using System.ComponentModel.DataAnnotations;
using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

public class RecordReaderTests
{
    private static readonly JsonSerializerOptions Types = ConfigurationJson.Create(new DefaultJsonTypeInfoResolver(), new JsonStringEnumConverter(JsonNamingPolicy.KebabCaseLower, allowIntegerValues: false));

    public enum Speed
    {
        Slow,
        VeryFast,
    }

    [JsonPolymorphic(TypeDiscriminatorPropertyName = "kind")]
    [JsonDerivedType(typeof(Scale), "scale")]
    [JsonDerivedType(typeof(Clamp), "clamp")]
    public abstract record Step;

    public sealed record Scale : Step
    {
        [Range(0.1, 10.0)]
        public double Factor { get; init; } = 1;
    }

    public sealed record Clamp(double Low, double High) : Step, IChecked
    {
        public IEnumerable<string> Mistakes()
        {
            if (Low >= High)
                yield return "'low' is not below 'high'.";
        }
    }

    public sealed record Inner
    {
        [Range(0.0, 60.0)]
        public double Seconds { get; init; } = 2;

        public int Count { get; init; } = 3;
    }

    public sealed record Outer : ICheckedOptions
    {
        public Inner Air { get; init; } = new() { Count = 7 };

        public Inner? Other { get; init; }

        public Speed Speed { get; init; }

        public string Name { get; init; } = "standard";

        public bool On { get; init; }

        public double? Limit { get; init; }

        public DateOnly? Day { get; init; }

        public IReadOnlyList<Step> Steps { get; init; } = [];

        public double[] Numbers { get; init; } = [];

        [KeyPattern("^[a-z]+$", "small letters")]
        public IReadOnlyDictionary<string, Inner> Parts { get; init; } = new Dictionary<string, Inner>();

        public int Twice => 2 * Air.Count;

        public IEnumerable<OptionMistake> Mistakes()
        {
            if (Name == "bad")
                yield return new("name", "the name is bad", "take another");
        }
    }

    public sealed record Needy
    {
        public required string Job { get; init; }

        public string? Note { get; init; }
    }

    [Fact]
    public void What_is_left_out_keeps_its_default_and_what_is_written_does_not()
    {
        var read = Sound<Outer>(
            """
            {
              // half of a part: the rest stays what the property says, not what the type says
              "air": { "seconds": 5 },
              "speed": "very-fast", "limit": 1.5, "day": "2026-03-09", "numbers": [1, 2.5,],
              "steps": [ { "factor": 2, "kind": "scale" }, { "kind": "clamp", "low": 1, "high": 2 } ],
              "parts": { "a": {}, "b": { "count": 1 } },
            }
            """);

        Assert.Equal(new Inner { Seconds = 5, Count = 7 }, read.Air);
        Assert.Null(read.Other);
        Assert.Equal((Speed.VeryFast, "standard", 1.5, new DateOnly(2026, 3, 9)), (read.Speed, read.Name, read.Limit, read.Day));
        Assert.Equal([1, 2.5], read.Numbers);
        Assert.Equal([new Scale { Factor = 2 }, new Clamp(1, 2)], read.Steps);
        Assert.Equal([("a", new Inner()), ("b", new Inner { Count = 1 })], read.Parts.Select(p => (p.Key, p.Value)));
        Assert.Equal(new Inner { Count = 7 }, Sound<Outer>("{}").Air);
    }

    [Fact]
    public void All_mistakes_are_found_at_once_each_with_its_path_and_line()
    {
        var found = Mistakes<Outer>(
            """
            {
              "air": { "seconds": 61, "cuont": 3 },
              "speed": "fast",
              "name": 5,
              "on": "yes",
              "limit": 1e999,
              "day": "9 March",
              "steps": [
                { "kind": "scael" },
                { "factor": 2 },
                { "kind": "clamp", "low": 3, "high": 2 },
                { "kind": "clamp", "low": 3 }
              ],
              "numbers": { },
              "parts": { "A1": {}, "b": null },
              "twice": 4,
              "other": [],
              "air": {}
            }
            """);

        Assert.Equal(
            [
                "f.json:2: air.seconds: 61 is out of range: write a number from 0 to 60",
                "f.json:2: air.cuont: there is no such key: did you mean 'count'? Allowed: seconds, count",
                "f.json:3: speed: \"fast\" is not one of the words allowed: use one of slow, very-fast",
                "f.json:4: name: 5 is not text in quotes: write text in quotes",
                "f.json:5: on: \"yes\" is not true or false: write true or false",
                "f.json:6: limit: 1e999 is beyond what a number can hold: write a smaller one",
                "f.json:7: day: \"9 March\" is not a date as in \"2026-03-09\": write a date as in \"2026-03-09\"",
                "f.json:9: steps[0].kind: \"scael\" is no kind: did you mean 'scale'? Allowed: scale, clamp",
                "f.json:10: steps[1]: the key 'kind' is missing: add it, with one of scale, clamp",
                "f.json:11: steps[2]: 'low' is not below 'high': change the values so that they agree",
                "f.json:12: steps[3]: the key 'high' is missing: add it, with a number",
                "f.json:14: numbers: an object in { } is not a list in [ ]: write a list in [ ]",
                "f.json:15: parts.A1: \"A1\" is not a name that can stand here: use small letters",
                "f.json:15: parts.b: null is not a value here: write an object in { }, or leave the key out",
                "f.json:16: twice: there is no such key: use one of air, other, speed, name, on, limit, day, steps, numbers, parts",
                "f.json:17: other: a list in [ ] is not an object in { }: write an object in { }",
                "f.json:18: air: the key stands twice, first in line 2: keep one of them",
            ],
            found);
    }

    [Fact]
    public void A_record_is_asked_what_is_wrong_with_it_once_its_parts_are_sound() =>
        Assert.Equal(["f.json:1: name: the name is bad: take another"], Mistakes<Outer>("""{ "name": "bad" }"""));

    [Fact]
    public void Null_is_taken_only_where_the_property_may_be_null()
    {
        Assert.Null(Sound<Outer>("""{ "limit": null, "other": null }""").Limit);
        Assert.Equal(
            ["f.json:1: name: null is not a value here: write text in quotes, or leave the key out"],
            Mistakes<Outer>("""{ "name": null }"""));
    }

    [Fact]
    public void A_required_key_that_is_missing_is_a_mistake()
    {
        Assert.Equal(new Needy { Job = "felt" }, Sound<Needy>("""{ "job": "felt" }"""));
        Assert.Equal(["f.json:1: the key 'job' is missing: add it, with text in quotes"], Mistakes<Needy>("{}"));
    }

    [Fact]
    public void A_default_is_never_changed_by_what_is_read()
    {
        var standard = new Outer();
        _ = Sound<Outer>("""{ "air": { "count": 1 } }""");

        Assert.Equal(new Outer().Air, standard.Air);
        Assert.Equal(7, Sound<Outer>("{}").Air.Count);
    }

    private static T Sound<T>(string json)
        where T : class
    {
        var mistakes = new List<ConfigurationMistake>();
        var read = Read<T>(json, mistakes);
        Assert.Empty(mistakes);
        return read!;
    }

    private static IEnumerable<string> Mistakes<T>(string json)
        where T : class
    {
        var mistakes = new List<ConfigurationMistake>();
        Assert.Null(Read<T>(json, mistakes));
        return mistakes.OrderBy(m => m.Line).Select(m => m.ToString());
    }

    private static T? Read<T>(string json, List<ConfigurationMistake> mistakes)
        where T : class =>
        new RecordReader("f.json", mistakes, Types).Read<T>(ConfigurationText.Parse("f.json", Encoding.UTF8.GetBytes(json), mistakes)!);
}
