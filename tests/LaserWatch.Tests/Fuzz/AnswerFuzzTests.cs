using System.Text;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Storage.Influx;
using LaserWatch.Telemetry;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>JSON from brokers, servers and disks.</summary>
public sealed class AnswerFuzzTests(ITestOutputHelper output) : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("laserwatch-fuzz-");

    public void Dispose() => _folder.Delete(recursive: true);

    [Fact]
    public void Alarms_of_any_bytes_are_read_or_refused_in_words()
    {
        var alarm = AlarmJson.ToUtf8(new AlarmChange(
            new Instant(1773041400000000000), "bay1", Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, 151, double.NaN, "kPa", "birch", "low", [new("since", 2), new("how", "x")], ["hose"]));
        new Fuzzing(output, [alarm], ["\"time\":", "\"state\":\"normal\"", "\"evidence\":{}", "\"by\":", "\"checks\":[]"], bytes =>
        {
            if (AlarmJson.TryRead(bytes, out var change, out var mistake))
                Assert.NotNull(change);
            else
                Fuzzing.AssertSayable(mistake);
        }).Run(cases: 20_000);
    }

    [Fact]
    public void Answers_of_a_time_series_server_are_tables_or_a_fault_in_words()
    {
        byte[][] seeds =
        [
            """{"results":[{"statement_id":0,"series":[{"name":"alarm","tags":{"a":"b"},"columns":["time","value","job","beam"],"values":[[-9223372036854775806,0.1,null,true],[1773041400000000001,-0,"birch",false]],"partial":true}]}]}"""u8.ToArray(),
            """{"results":[{"statement_id":0}]}"""u8.ToArray(),
        ];
        new Fuzzing(output, seeds, ["\"error\":\"x\"", "\"columns\":", "\"values\":", "\"series\":", "\"results\":", "\"partial\":true", "\"time\""], bytes =>
        {
            try
            {
                foreach (var table in QueryAnswer.Read(bytes))
                {
                    for (var row = 0; row < table.Rows; row++)
                        _ = table.Row(row).Length;
                }
            }
            catch (InfluxFaultException fault)
            {
                Fuzzing.AssertSayable(fault.Message);
            }

            if (QueryAnswer.ErrorOf(bytes) is { Length: > 0 } words)
                Fuzzing.AssertSayable(words);
        }).Run(cases: 10_000);
    }

    [Fact]
    public async Task The_embedded_brokers_file_is_read_or_said_to_be_damaged()
    {
        var file = Path.Combine(_folder.FullName, "retained.json");
        await RetainedFile.SaveAsync(file, [new("laserwatch/bay1/status", [1, 2, 3], 1), new("a/b", [], 0)], CancellationToken.None);
        new Fuzzing(output, [File.ReadAllBytes(file), "[]"u8.ToArray()], ["\"topic\":null", "\"payload\":null", "\"qos\":3", "null", "[null]"], bytes =>
        {
            File.WriteAllBytes(file, bytes);
            try
            {
                Assert.All(RetainedFile.LoadAsync(file, CancellationToken.None).GetAwaiter().GetResult(), message => Assert.NotEmpty(message.Topic));
            }
            catch (JsonException damaged)
            {
                Fuzzing.AssertSayable(damaged.Message);
            }
        }).Run(cases: 600);
    }
}
