using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.EndToEnd;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>To write the golden files anew after a change of words, run these tests with LASERWATCH_REWRITE_GOLDEN=1.</summary>
public sealed class AlarmsCommandTests : IDisposable
{
    private static readonly Instant Start = Instant.From(new DateTimeOffset(2026, 3, 9, 0, 0, 0, TimeSpan.Zero));
    private readonly AgentFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task Standing_alarms_are_listed_root_causes_first_with_what_follows_beneath_and_who_did_what()
    {
        await FillAsync(
            Change(1, Conditions.CoolantTimeToLimit, AlarmState.Unacknowledged, AlarmPriority.High),
            Change(2, Conditions.CoolantHot, AlarmState.Unacknowledged, AlarmPriority.High),
            Change(3, Conditions.CoolantHot, AlarmState.Acknowledged, AlarmPriority.High) with { By = "ana" },
            Change(4, Conditions.CoolantFlowLow, AlarmState.Unacknowledged, AlarmPriority.Urgent),
            Change(5, Conditions.CoolantDrift, AlarmState.SuppressedByDesign),
            Change(6, Conditions.SensorStuck, AlarmState.Shelved, AlarmPriority.Low) with
            {
                By = "ana",
                Message = "shelved by ana: new sensor comes on Friday",
                Evidence = [new Evidence("shelved_until", "2026-03-13T08:00:00.000Z")],
            },
            Change(7, Conditions.AirPressureLow, AlarmState.Unacknowledged),
            Change(8, Conditions.AirPressureLow, AlarmState.Normal));

        var (exit, output, error) = await RunAsync("alarms");

        Golden("alarms-standing.txt", output);
        Assert.Equal((0, "1 suppressed by design; --state suppressed-by-design lists them, --all every transition.\n"), (exit, error));
    }

    [Fact]
    public async Task Priority_and_state_choose()
    {
        await FillAsync(
            Change(1, Conditions.CoolantHot, AlarmState.Unacknowledged, AlarmPriority.High),
            Change(2, Conditions.CoolantDrift, AlarmState.SuppressedByDesign),
            Change(3, Conditions.AirPressureLow, AlarmState.Acknowledged, AlarmPriority.Urgent));

        Assert.Equal(["air-pressure-low", "coolant-hot"], await ConditionsAsync("--priority", "high", "--priority", "urgent"));
        Assert.Equal(["air-pressure-low"], await ConditionsAsync("--state", "acknowledged"));
        Assert.Equal(["coolant-drift"], await ConditionsAsync("--state", "suppressed-by-design"));
        Assert.Equal(["coolant-hot", "coolant-drift", "air-pressure-low"], await ConditionsAsync("--all"));
        Assert.Equal(["coolant-drift"], await ConditionsAsync("--all", "--priority", "medium"));
        Assert.Equal(2, (await RunAsync("alarms", "--state", "loud")).ExitCode);
    }

    [Fact]
    public async Task A_flood_and_what_machines_have_in_common_are_said_above_the_list()
    {
        var now = Instant.From(TimeProvider.System.GetUtcNow());
        await FillAsync([.. Enumerable.Range(0, 12).Select(i => Change(0, Conditions.AirPressureLost, AlarmState.Unacknowledged) with
        {
            Machine = $"bay{i}",
            Time = now - TimeSpan.FromSeconds(120 - i),
        })]);

        var (_, _, error) = await RunAsync("alarms");

        Assert.Contains("A flood of alarms since", error, StringComparison.Ordinal);
        Assert.Contains(": 12 so far.", error, StringComparison.Ordinal);
        Assert.Contains("Air pressure lost or low on 12 of 12 machines", error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("performance-shop.txt")]
    [InlineData("performance-bay1.txt", "bay1")]
    [InlineData("performance.json", "--format", "json", "--from", "2026-03-09", "--to", "2026-03-10")]
    public async Task The_performance_is_the_golden_file(string golden, params string[] arguments)
    {
        await FillAsync(FiveWeeks());

        var (exit, output, error) = await RunAsync(["alarms", .. arguments, "--performance"]);

        Golden(golden, output);
        Assert.Equal((0, ""), (exit, error));
        if (golden.EndsWith(".json", StringComparison.Ordinal))
            JsonDocument.Parse(output).Dispose();
    }

    [Theory]
    [InlineData(1, "there is nothing to measure", "--performance", "--from", "2020-01-01", "--to", "2020-02-01")]
    [InlineData(2, "--from must be before --to", "--performance", "--from", "2026-03-10", "--to", "2026-03-09")]
    [InlineData(2, "leave out --all, --priority and --state", "--performance", "--all")]
    [InlineData(3, "knows no machine 'bay9'", "bay9", "--performance")]
    public async Task What_cannot_be_measured_is_one_line_and_an_exit_status(int status, string says, params string[] arguments)
    {
        await FillAsync(FiveWeeks());

        var (exit, output, error) = await RunAsync(["alarms", .. arguments]);

        Assert.Equal((status, ""), (exit, output));
        Assert.Contains(says, error, StringComparison.Ordinal);
        Assert.Equal(1, error.Count(c => c == '\n'));
    }

    /// <summary>Two machines at work eight hours a day; on the 10th the air of both goes, and their alarms chatter.</summary>
    private static AlarmChange[] FiveWeeks()
    {
        var changes = new List<AlarmChange>();
        for (var day = 0; day < 35; day++)
        {
            for (var i = 0; i < 3; i++)
            {
                var at = (day * 1440) + 500 + (i * 100);
                changes.Add(Change(at, Conditions.CoolantDrift, AlarmState.Unacknowledged, AlarmPriority.Low));
                changes.Add(Change(at + 2 + i, Conditions.CoolantDrift, AlarmState.Acknowledged, AlarmPriority.Low) with { By = "ana" });
                changes.Add(Change(at + 20, Conditions.CoolantDrift, AlarmState.Normal, AlarmPriority.Low));
            }
        }

        for (var i = 0; i < 12; i++)
        {
            var at = (9 * 1440) + 600 + (i / 4.0);
            changes.Add(Change(at, Conditions.AirPressureLost, AlarmState.Unacknowledged, AlarmPriority.Urgent) with { Machine = i % 2 == 0 ? "bay1" : "bay2" });
            changes.Add(Change(at + 0.2, Conditions.AirPressureLost, AlarmState.ReturnedUnacknowledged, AlarmPriority.Urgent) with { Machine = i % 2 == 0 ? "bay1" : "bay2" });
        }

        changes.Add(Change(20 * 1440, Conditions.ServiceDue, AlarmState.Unacknowledged, AlarmPriority.Low) with { Machine = "bay2" });
        return [.. changes.OrderBy(c => c.Time)];
    }

    private async Task<List<string>> ConditionsAsync(params string[] arguments)
    {
        var (_, output, _) = await RunAsync(["alarms", "--format", "json", .. arguments]);
        SentKeys.HoldIn(output);
        return [.. output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => JsonDocument.Parse(line).RootElement.GetProperty("condition").GetString()!)];
    }

    private async Task FillAsync(params AlarmChange[] changes)
    {
        var batch = new StoreBatch();
        batch.AlarmChanges.AddRange(changes);
        for (var hour = 0; hour < 35 * 24; hour++)
        {
            if (hour % 24 is >= 7 and < 15)
                batch.Samples.Add(("bay1", new Sample(Channel.CoolantIn, Start + TimeSpan.FromHours(hour), 20)));
        }

        batch.Gaps.Add(new Gap("bay1", Start + TimeSpan.FromHours(8), Start + TimeSpan.FromHours(8.5), "the store took nothing", 30));
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = _folder.StorePath });
        await store.AppendAsync(batch, CancellationToken.None);
    }

    private static AlarmChange Change(double minutes, string condition, AlarmState state, AlarmPriority priority = AlarmPriority.Medium) => new(
        Start + TimeSpan.FromMinutes(minutes), "bay1", condition, state, priority, 31, 28, "°C", null, condition, [], ["Look at it"]);

    private static void Golden(string name, string output)
    {
        var path = Path.Combine(Repository.Folder, "tests", "LaserWatch.Tests", "Cli", "Golden", name);
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
            File.WriteAllText(path, output);
        Assert.Equal(File.ReadAllText(path), output);
    }

    private async Task<(int ExitCode, string Out, string Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter { NewLine = "\n" };
        using var error = new StringWriter { NewLine = "\n" };
        var exitCode = await Program.RunAsync([.. arguments, "--config", _folder.Config], output, error);
        return (exitCode, output.ToString(), error.ToString());
    }
}
