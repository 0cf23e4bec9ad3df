using System.Globalization;
using System.IO.Compression;
using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Demo.Cases;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

public sealed partial class ShippedCasesTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public static TheoryData<string> All => [.. ShippedCases.Names];

    public static TheoryData<string> Faults => [.. ShippedCases.Names.Where(name => !ShippedCases.Open(name).IsNothingWrong)];

    public static TheoryData<string> Healthy => [.. ShippedCases.Names.Where(name => ShippedCases.Open(name).IsNothingWrong)];

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void There_are_eight_faults_and_two_in_which_nothing_is_wrong()
    {
        var cases = ShippedCases.Names.Select(ShippedCases.Open).ToList();

        Assert.Equal(
            ["air-compressor", "air-hose-kink", "air-set-low", "coolant-flow-low", "coolant-warm", "nozzle-dirty", "supply-failing", "tube-aged"],
            cases.SelectMany(its => its.Causes).Order(StringComparer.Ordinal));
        Assert.Equal(2, cases.Count(its => its.IsNothingWrong));
        Assert.Equal(CaseScenarios.All.Select(scenario => scenario.Name).Order(StringComparer.Ordinal), cases.Select(its => its.Name));
    }

    /// <summary>Of the lines: how gzip packs them may differ from one processor to another.</summary>
    [Theory]
    [MemberData(nameof(All))]
    public void The_scenario_makes_its_recording_anew_byte_for_byte(string name)
    {
        var scenario = CaseScenarios.All.Single(scenario => scenario.Name == name);
        using var made = new MemoryStream();
        scenario.Write(made);

        Assert.Equal(Unpacked(ShippedCases.Open(name)), made.ToArray());
        Assert.Equal(scenario.Began, ShippedCases.Open(name).Began);
    }

    [Theory]
    [MemberData(nameof(All))]
    public async Task It_is_sound_small_and_worth_a_quarter_to_a_whole_hour(string name)
    {
        var copy = await CopyAsync(name);
        var checkup = CaseCheckup.Of(copy, CausesFile.ReadBuiltIn());

        Assert.Empty(checkup.Mistakes);
        Assert.InRange(new FileInfo(Path.Combine(copy, CaseFolder.PackedRecording)).Length, 10_000, 150_000);
        Assert.Equal(0, checkup.Counts!.AlarmLines);
        Assert.InRange(MinutesWatched(checkup.Case!), 15, 60);
    }

    /// <summary>When the alarm may come, in seconds from the beginning of the fault: what is slow in the machine, or needs proof, comes late.</summary>
    [Theory]
    [InlineData("plywood-morning", Conditions.AirPressureLow, 2, 20)]
    [InlineData("long-cut", Conditions.AirPressureLow, 60, 300)] // the tank must run down first
    [InlineData("change-of-jobs", Conditions.AirPressureLow, 120, 150)] // at the next run, which starts after two minutes
    [InlineData("mdf-series", Conditions.AirPathRestricted, 600, 1200)] // a quarter of the flow is gone after 14 of 24 minutes
    [InlineData("third-day", Conditions.CoolantTimeToLimit, 60, 480)]
    [InlineData("quiet-tuesday", Conditions.CoolantFlowLow, 300, 1800)] // worked out from heat, and against the chiller's swing
    [InlineData("seven-weeks", Conditions.TubeCurrentSag, 14 * 86_400, 31 * 86_400)] // five per cent must be gone
    [InlineData("after-lunch", Conditions.TubeCurrentStep, 30, 300)]
    public async Task The_rules_raise_its_alarm_first_and_in_time(string name, string condition, double earliest, double latest)
    {
        var its = ShippedCases.Open(name);
        var raised = await RaisedAsync(its);

        Assert.Equal(condition, raised[0].Condition);
        Assert.All(raised, change => SentKeys.HoldIn(Encoding.UTF8.GetString(AlarmJson.ToUtf8(change))));
        Assert.InRange(raised[0].Time.SecondsSince(its.Began!.Value), earliest, latest);
        Assert.True(its.WatchFrom < its.Began || its.WatchFrom < raised[0].Time);
    }

    [Theory]
    [MemberData(nameof(Healthy))]
    public async Task Where_nothing_is_wrong_no_alarm_of_any_priority_is_raised(string name) => Assert.Empty(await RaisedAsync(ShippedCases.Open(name)));

    [Theory]
    [MemberData(nameof(Faults))]
    public async Task Diagnose_names_the_true_cause_among_the_first_three(string name)
    {
        var its = ShippedCases.Open(name);
        var recording = Path.Combine(await CopyAsync(name), CaseFolder.PackedRecording);
        using var output = new StringWriter();
        Assert.Equal(0, await Program.RunAsync(["diagnose", its.Machine, "--recording", recording, "--format", "json"], output, output));
        using var json = JsonDocument.Parse(output.ToString());

        Assert.Contains(its.Causes[0], json.RootElement.GetProperty("causes").EnumerateArray().Take(3).Select(cause => cause.GetProperty("cause").GetString()));
    }

    [Theory]
    [MemberData(nameof(Faults))]
    public void The_check_that_finds_the_cause_is_among_its_checks(string name) =>
        Assert.All(ShippedCases.Open(name).Causes, cause => Assert.Contains(CausesFile.ReadBuiltIn().FindCause(cause)!.Check, ShippedCases.Open(name).Checks));

    [Theory]
    [MemberData(nameof(Faults))]
    public void Nothing_that_a_trainee_sees_at_the_start_says_the_answer(string name)
    {
        var its = ShippedCases.Open(name);
        var seen = $"{its.Name} {its.Title} {its.Summary}".ToLowerInvariant();

        Assert.All(its.Causes.SelectMany(cause => cause.Split('-')).Where(word => word.Length > 3), word => Assert.DoesNotContain(word, seen, StringComparison.Ordinal));
    }

    [Theory]
    [MemberData(nameof(All))]
    public async Task Every_figure_and_alarm_in_the_tables_of_the_notes_is_the_recordings_own(string name)
    {
        var its = ShippedCases.Open(name);
        var rows = Row().Matches(its.Notes).ToList();
        var minutes = rows.Where(row => row.Groups["at"].Length == 16).Select(row => Time(row.Groups["at"].Value)).ToList();
        using var reader = its.ReadRecording(new ChannelTable());
        var readings = new MinuteReadings(minutes).Read(reader);
        var raised = (await RaisedAsync(its)).Select(change => (change.Time, change.Condition)).ToList();

        Assert.InRange(rows.Count, 8, 20);
        foreach (var row in rows)
        {
            var (at, channel, reading) = (Time(row.Groups["at"].Value), row.Groups["channel"].Value, row.Groups["reading"].Value.Trim());
            if (channel == "alarm")
                Assert.Contains((at, reading), raised);
            else
                Assert.Equal(reading, Shown(readings, at, channel, reading));
        }
    }

    private static string Shown(MinuteReadings readings, Instant at, string channel, string reading)
    {
        Assert.True(new ChannelTable().TryFind(channel, out var known), channel);
        var digits = reading.Split(' ')[0].Split('.') is [_, var fraction] ? fraction.Length : 0;
        // Half way between two of its last digits a median may be spelled either way.
        var median = readings.Median(at, known!)!.Value;
        var stated = double.Parse(reading.Split(' ')[0], CultureInfo.InvariantCulture);
        var value = Math.Abs(median - stated) <= (0.5 * Math.Pow(10, -digits)) + 1e-9 ? stated : median;
        return value.ToString("F" + digits, CultureInfo.InvariantCulture) + $" {known!.Unit}";
    }

    private async Task<string> CopyAsync(string name)
    {
        var copy = _folder.File(name);
        await CaseFolder.CopyAsync(name, copy);
        return copy;
    }

    /// <summary>All that is raised, the explained ones too, in order.</summary>
    private static async Task<List<AlarmChange>> RaisedAsync(TrainingCase its)
    {
        List<AlarmChange> raised = [];
        using var reader = its.ReadRecording(new ChannelTable());
        await new Replay(reader, new Shop(_ => MonitorOptions.Default, new JobBook()), change =>
        {
            if (change.State is AlarmState.Unacknowledged or AlarmState.SuppressedByDesign)
                raised.Add(change);
        }).RunAsync(null, null, CancellationToken.None);
        return raised;
    }

    private static int MinutesWatched(TrainingCase its)
    {
        using var reader = its.ReadRecording(new ChannelTable());
        var minutes = new HashSet<long>();
        while (reader.Read() is { } e)
        {
            if (e.Kind == RecordingEventKind.Telemetry && e.At >= its.WatchFrom)
                minutes.Add(e.At.UnixNanoseconds / 60_000_000_000);
        }

        return minutes.Count;
    }

    private static byte[] Unpacked(TrainingCase its)
    {
        using var gzip = new GZipStream(its.OpenRecording(), CompressionMode.Decompress);
        using var bytes = new MemoryStream();
        gzip.CopyTo(bytes);
        return bytes.ToArray();
    }

    private static Instant Time(string text) => Rfc3339.TryParse($"{text.Replace(' ', 'T')}{(text.Length == 16 ? ":00" : "")}Z", out var at) ? at : throw new FormatException(text);

    [GeneratedRegex(@"^\| (?<at>\d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)?) \| (?<channel>[a-z_]+) \| (?<reading>[^|]+) \|", RegexOptions.Multiline)]
    private static partial Regex Row();
}
