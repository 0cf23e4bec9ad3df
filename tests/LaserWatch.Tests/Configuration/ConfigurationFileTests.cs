using CsCheck;
using LaserWatch.Calibration;
using LaserWatch.Jobs;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

public sealed class ConfigurationFileTests : IDisposable
{
    /// <summary>What a hand can slip into JSON, the hardest of it escaped halves of pairs and NUL.</summary>
    private static readonly string[] Pieces =
        ["{", "}", "[", "]", "\"", ",", ":", "/", "\\", " ", "\n", "\0", "\\u0000", "\\uD800", "null", "true", "1e999", "-1", "é", "\"kind\":", "//"];

    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-test-").FullName;

    private readonly Dictionary<string, string> _environment = [];

    [Fact]
    public void An_empty_object_gives_the_defaults_with_paths_beside_the_file()
    {
        var options = Sound("{}");

        Assert.Null(options.Broker.Host);
        Assert.Equal((1883, "laserwatch", 168, 500, 30), (options.Broker.Port, options.Broker.ClientId, options.Broker.SessionExpiryHours, options.Broker.ReceiveMaximum, options.Broker.KeepAliveSeconds));
        Assert.Equal(Path.Combine(_folder, "data/laserwatch.db"), options.Store.Path);
        Assert.Equal(Path.Combine(_folder, "jobs.json"), options.JobsFile);
        Assert.Empty(options.JobRecords);
        Assert.Null(options.Log.Folder);
        Assert.Same(options.Rules, options.RulesOf("bay1"));
    }

    [Fact]
    public void A_file_that_is_not_there_is_one_clear_mistake()
    {
        var read = ConfigurationFile.Read(Path.Combine(_folder, "none.json"));

        Assert.Null(read.Value);
        Assert.Equal(
            [$"{_folder}/none.json: there is no such file: name one that is there, or copy config/laserwatch.json and change it"],
            read.Mistakes.Select(m => m.ToString()));
    }

    [Theory]
    [InlineData("", 1)]
    [InlineData("{\n  \"log\": { \"keepFiles\": 3 \n  \"jobsFile\": \"a\" }", 3)]
    [InlineData("{\n}\n}", 3)]
    [InlineData("{\n  'log': 1 }", 2)]
    [InlineData("{ \"log\": {", 1)]
    public void Malformed_JSON_is_told_with_line_and_column(string json, int line)
    {
        var mistake = Assert.Single(Read(json).Mistakes);

        Assert.Equal(line, mistake.Line);
        Assert.StartsWith("not JSON from column ", mistake.What, StringComparison.Ordinal);
    }

    [Fact]
    public void Text_that_is_not_UTF_8_is_told_with_its_line()
    {
        File.WriteAllBytes(Path.Combine(_folder, "laserwatch.json"), [.. "{\n\n \"log\": \""u8, 0xE9, .. "\" }"u8]);

        var mistake = Assert.Single(ConfigurationFile.Read(Path.Combine(_folder, "laserwatch.json")).Mistakes);

        Assert.Equal((3, "not UTF-8 text"), (mistake.Line, mistake.What));
    }

    [Fact]
    public void A_byte_order_mark_is_no_mistake()
    {
        File.WriteAllBytes(Path.Combine(_folder, "laserwatch.json"), [0xEF, 0xBB, 0xBF, .. "{}"u8]);

        Assert.Empty(ConfigurationFile.Read(Path.Combine(_folder, "laserwatch.json")).Mistakes);
    }

    [Fact]
    public void A_password_written_into_the_file_is_refused_and_not_shown()
    {
        var mistake = Assert.Single(Read("""{ "broker": { "user": "u", "password": "hunter2" } }""").Mistakes);

        Assert.Equal("broker.password", mistake.Path);
        Assert.DoesNotContain("hunter2", mistake.ToString(), StringComparison.Ordinal);
        Assert.Contains("{\"env\": \"NAME\"}", mistake.Mend, StringComparison.Ordinal);
    }

    [Fact]
    public void A_secret_is_read_from_the_environment_or_from_a_file_beside_the_configuration()
    {
        _environment["LW_PASSWORD"] = "s3cret";
        File.WriteAllText(Path.Combine(_folder, "secret.txt"), "0ther\r\n");

        var options = Sound(
            """
            { "broker": { "user": "u", "password": { "env": "LW_PASSWORD" } },
              "embeddedBroker": { "user": "u", "password": { "file": "secret.txt" } } }
            """);

        Assert.Equal("s3cret", options.Broker.Password!.Read(_environment.GetValueOrDefault, out var wrong));
        Assert.Null(wrong);
        Assert.Equal("0ther", options.EmbeddedBroker.Password!.Read(_environment.GetValueOrDefault, out wrong));
        Assert.Null(wrong);
    }

    [Fact]
    public void What_the_file_points_to_must_be_there()
    {
        File.WriteAllText(Path.Combine(_folder, "empty.txt"), "\n");

        Assert.Equal(
            [
                (2, "broker.password.env", "the environment variable 'LW_NONE' is not set, or empty"),
                (3, "broker.tls.caFile", $"there is no file '{_folder}/ca.pem'"),
                (4, "embeddedBroker.password.file", $"the file '{_folder}/empty.txt' is empty or larger than 64 KiB"),
                (5, "jobsFile", $"there is no file '{_folder}/cuts.json'"),
            ],
            Read(
                """
                { "broker": { "user": "u",
                    "password": { "env": "LW_NONE" },
                    "tls": { "enabled": true, "caFile": "ca.pem" } },
                  "embeddedBroker": { "user": "u", "password": { "file": "empty.txt" } },
                  "jobsFile": "cuts.json" }
                """).Mistakes.Select(m => (m.Line, m.Path, m.What)));
    }

    [Theory]
    [InlineData("""{ "broker": { "host": "" } }""", "broker.host")]
    [InlineData("""{ "broker": { "port": 0 } }""", "broker.port")]
    [InlineData("""{ "broker": { "topicRoot": "shop/#" } }""", "broker.topicRoot")]
    [InlineData("""{ "broker": { "subscribe": ["a/+/c", "a+"] } }""", "broker.subscribe[1]")]
    [InlineData("""{ "broker": { "password": { } , "user": "u" } }""", "broker.password")]
    [InlineData("""{ "broker": { "tls": { "enabled": true, "keyFile": "k" } } }""", "broker.tls.keyFile")]
    [InlineData("""{ "broker": { "tls": { "caFile": "k" } } }""", "broker.tls")]
    [InlineData("""{ "embeddedBroker": { "address": "0.0.0.0" } }""", "embeddedBroker.address")]
    [InlineData("""{ "embeddedBroker": { "address": "localhost" } }""", "embeddedBroker.address")]
    [InlineData("""{ "embeddedBroker": { "user": "u" } }""", "embeddedBroker.user")]
    [InlineData("""{ "log": { "level": "Warning" } }""", "log.level")]
    [InlineData("""{ "log": { "level": "information" } }""", "log.level")]
    [InlineData("""{ "log": { "folder": "" } }""", "log.folder")]
    [InlineData("""{ "log": { "folder": "a\u0000b" } }""", "log.folder")]
    [InlineData("""{ "log": { "folder": "a\ud800b" } }""", "")]
    [InlineData("""{ "store": { "path": "" } }""", "store.path")]
    [InlineData("""{ "jobsFile": "" }""", "jobsFile")]
    [InlineData("""{ "machines": { "Bay 1": { } } }""", "machines[\"Bay 1\"]")]
    [InlineData("""{ "machines": { "bay1": { "tube": { "installed": "1889-03-09" } } } }""", "machines.bay1.tube.installed")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "air pressure" } ] } } }""", "machines.bay1.sensors[0]")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "job" } ] } } }""", "machines.bay1.sensors[0].channel")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "a", "value": "psi" } ] } } }""", "machines.bay1.sensors[0]")]
    [InlineData("""{ "input": { "root": "shop" } }""", "input.root")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "topic": "a/#/b", "channel": "a" } ] } } }""", "machines.bay1.sensors[0]")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "air_pressure", "unit": "mA" } ] } } }""", "machines.bay1.sensors[0]")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "coolant_in", "calibration": [ { "kind": "divider", "fixedOhms": 0.5 } ] } ] } } }""", "machines.bay1.sensors[0].calibration[0].fixedOhms")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "coolant_in", "calibration": [ { "kind": "divider", "fixedOhms": 1e12 } ] } ] } } }""", "machines.bay1.sensors[0].calibration[0].fixedOhms")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "air_pressure", "calibration": [ { "kind": "current-loop" } ] } ] } } }""", "machines.bay1.sensors[0].calibration[0]")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "topic": "a" } ] } } }""", "machines.bay1.sensors[0]")]
    [InlineData("""{ "machines": { "bay1": { "sensors": [ { "channel": "a" }, { "channel": "a", "topic": "b" } ] } } }""", "machines.bay1.sensors[1]")]
    public void One_thing_wrong_is_one_mistake_at_its_path(string json, string path)
    {
        var read = Read(json);

        Assert.Equal(path, Assert.Single(read.Mistakes).Path);
        Assert.Null(read.Value);
    }

    [Fact]
    public void A_machine_has_the_rules_of_the_shop_but_for_what_it_says_otherwise()
    {
        var options = Sound(
            """
            { "rules": { "airPressure": { "tolerance": 0.2, "onDelaySeconds": 3 }, "coolant": { "hotCelsius": 28 },
                         "limits": { "oil": { "high": 60 } } },
              "machines": {
                "bay1": { "rules": { "airPressure": { "onDelaySeconds": 5 }, "limits": { "oil": { "low": 5 } } } },
                "bay2": { "tube": { "ratedCurrentMilliamps": 22 } } } }
            """);

        var own = options.RulesOf("bay1");
        Assert.Equal(options.Rules.AirPressure with { OnDelaySeconds = 5 }, own.AirPressure);
        Assert.Equal((0.2, 28, options.Rules.Coolant), (own.AirPressure.Tolerance, own.Coolant.HotCelsius, own.Coolant));
        Assert.Equal(new ChannelLimitOptions { Low = 5, High = 60 }, own.Limits["oil"]);
        Assert.Equal(options.Rules with { TubeCurrent = options.Rules.TubeCurrent with { RatedCurrentMilliamps = 22 } }, options.RulesOf("bay2"));
        Assert.Same(options.Rules, options.RulesOf("bay3"));
    }

    [Fact]
    public void Rules_of_a_machine_are_checked_once_merged_and_the_shop_s_own_mistakes_are_told_once()
    {
        Assert.Equal(
            [
                "2: rules.airPressure.tolerance: 20 is out of range",
                "3: machines.bay1.rules.coolant: no temperature lies between 'coldCelsius' and 'hotCelsius' by more than the deadband",
                "4: machines.bay2.rules.airPressure.onDelay: there is no such key",
            ],
            Read(
                """
                { "rules": { "coolant": { "hotCelsius": 28 },
                    "airPressure": { "tolerance": 20 } }, "machines": {
                  "bay1": { "rules": { "coolant": { "coldCelsius": 29 } } },
                  "bay2": { "rules": { "airPressure": { "onDelay": 5 } } } } }
                """).Mistakes.Select(m => $"{m.Line}: {m.Path}: {m.What}"));
    }

    [Fact]
    public void Sensors_become_topic_rules_units_and_subscriptions()
    {
        var options = Sound(
            """
            { "broker": { "topicRoot": "shop/laser", "subscribe": ["plc/#", "shop/laser/bay1/x"] },
              "machines": { "bay1": { "sensors": [
                { "channel": "air_pressure", "unit": "psi" },
                { "topic": "plc/oil", "channel": "oil_temperature", "value": "/t", "unit": "°F" },
                { "topic": "probe", "channel": "coolant_in", "calibration": [ { "kind": "rtd", "r0Ohms": 1000 } ] } ] } } }
            """);

        var rules = options.TopicRules();
        Assert.Equal("shop/laser", options.Input.Root);
        Assert.Equal(
            [("shop/laser/bay1/air_pressure", "air_pressure", "psi"), ("plc/oil", "oil_temperature", "°F"), ("probe", "coolant_in", null)],
            rules.Select(r => (r.Topic, r.Channel, r.Unit)));
        Assert.Equal([new RtdStep { R0Ohms = 1000 }], rules[2].Calibration);
        Assert.Equal([("oil_temperature", "°F")], options.DeclaredUnits().Select(u => (u.Key, u.Value)));
        Assert.Equal(["shop/laser/+/+", "probe", "plc/#"], options.Subscriptions());
    }

    [Fact]
    public void The_job_records_come_with_the_configuration_and_so_do_their_mistakes()
    {
        File.WriteAllText(
            Path.Combine(_folder, "jobs.json"),
            """{ "jobs": [ { "job": "felt-3-cut", "power": 30, "speed": 40, "airPressure": 120, "tubeCurrent": 9, "recordedAt": "2026-03-09" } ] }""");
        var recordedAt = Instant.From(new DateTimeOffset(2026, 3, 9, 0, 0, 0, TimeSpan.Zero));

        Assert.Equal(
            [new JobRecord("felt-3-cut", recordedAt, null, new PowerPercent(30), 40, new Kilopascals(120), new Milliamps(9))],
            Sound("{}").JobRecords);

        File.WriteAllText(Path.Combine(_folder, "jobs.json"), """{ "jobs": [ { "job": "felt-3-cut", "power": 300 } ] }""");

        Assert.Equal(
            ["log.keepFiles", "jobs[0].power", "jobs[0]"], Read("""{ "log": { "keepFiles": 0 } }""").Mistakes.Select(m => m.Path));
    }

    /// <summary>A slip of the keyboard anywhere in the example ends in a value or in mistakes with their places, never in an exception.</summary>
    [Fact]
    public void Whatever_is_done_to_the_text_it_is_read_or_its_mistakes_are_told()
    {
        const string example =
            """
            {
              // a bit of everything
              "broker": { "host": "b\u00e9", "password": null, "subscribe": ["a/#"], "tls": { "enabled": false } },
              "store": { "path": "data/x.db" },
              "jobsFile": "laserwatch.jobs.json",
              "rules": { "airPressure": { "tolerance": 0.1 }, "limits": { "oil": { "high": 6e1, "priority": "high" } } },
              "machines": { "bay1": {
                "tube": { "installed": "2026-03-09" },
                "sensors": [ { "channel": "air_pressure", "unit": "psi", "calibration": [ { "kind": "linear", "raw2": 1, "value2": 2 } ] }, ],
                "rules": { "coolant": { "hotCelsius": 28 } } } },
            }
            """;
        File.WriteAllText(Path.Combine(_folder, "laserwatch.jobs.json"), """{ "jobs": [] }""");
        Assert.Empty(Read(example).Mistakes);

        Gen.Select(Gen.Int[0, example.Length - 1], Gen.Int[0, 12], Gen.Int[0, Pieces.Length - 1].Select(i => Pieces[i]).Array[0, 3]).Sample(
            (at, cut, put) =>
            {
                var read = Read(example[..at] + string.Concat(put) + example[Math.Min(example.Length, at + cut)..]);

                Assert.True(read.Value is null != (read.Mistakes.Count == 0));
                Assert.All(read.Mistakes, m => Assert.InRange(m.Line, 1, 30));
            },
            iter: Rounds.Of(700), threads: 1);
    }

    private LaserWatchOptions Sound(string json)
    {
        var read = Read(json);
        Assert.Empty(read.Mistakes);
        return read.Value!;
    }

    private ConfigurationRead<LaserWatchOptions> Read(string json)
    {
        var path = Path.Combine(_folder, "laserwatch.json");
        File.WriteAllText(path, json);
        return ConfigurationFile.Read(path, _environment.GetValueOrDefault);
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);
}
