using System.IO.Compression;
using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.EndToEnd;
using LaserWatch.History;
using LaserWatch.Recordings;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>The verbs as a shop gives them, to the executable as a process of its own.</summary>
public sealed class CaseCommandTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task The_cases_are_listed_and_shown_without_their_answer()
    {
        var (exit, listed, error) = await AgentProcess.RunAsync("case", "list");
        Assert.Equal((0, ""), (exit, error));
        Assert.All(ShippedCases.Names, name => Assert.Contains(name, listed, StringComparison.Ordinal));

        foreach (var its in ShippedCases.Names.Select(ShippedCases.Open).Where(its => !its.IsNothingWrong))
        {
            var shown = await ShowAsync(its.Name);
            Assert.Contains(its.Summary, shown, StringComparison.Ordinal);
            Assert.DoesNotContain(its.Causes[0], shown, StringComparison.Ordinal);
            Assert.DoesNotContain(its.Notes[..40], shown, StringComparison.Ordinal);
        }

        (_, var answer, _) = await AgentProcess.RunAsync("case", "show", "long-cut", "--answer");
        Assert.Contains("It was air-compressor: compressor or air pump weak, off, or its filter clogged; since 2026-04-14 13:37:00 UTC", answer, StringComparison.Ordinal);
        Assert.Contains(ShippedCases.Open("long-cut").Notes.TrimEnd().ReplaceLineEndings(), answer.ReplaceLineEndings(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_case_is_cut_around_an_alarm_filled_in_and_played_like_the_day_itself()
    {
        await StoreAsync("long-cut");
        var (exit, output, error) = await AgentProcess.RunAsync(
            "case", "new", "bay1", "--store", Store, "--alarm", "air-pressure-low", "--before", "20m", "--after", "8m", "--history", "25m", "--out", At("empty-tank"),
            "--cause", "air-compressor", "--check", "compressor", "--began", "2026-04-14T13:37:00Z", "--level", "easy");

        Assert.Equal((0, ""), (exit, output));
        Assert.Contains("around air-pressure-low of 2026-04-14 13:40:14 UTC; watched from 2026-04-14 13:20:14 UTC; history from 2026-04-14 12:47:00 UTC: 25 min with the beam on", error, StringComparison.Ordinal);

        (exit, output, _) = await AgentProcess.RunAsync("case", "check", At("empty-tank"));
        Assert.Equal(1, exit);
        Assert.Equal(["case.json", "case.json", .. Enumerable.Repeat("notes.md", 5)], output.TrimEnd().Split('\n').Select(line => Path.GetFileName(line.Split(':')[0])));

        Fill(At("empty-tank"));
        (exit, output, error) = await AgentProcess.RunAsync("case", "check", At("empty-tank"));
        Assert.Equal((0, ""), (exit, output));

        var its = CaseFolder.Read(At("empty-tank"), CausesFile.ReadBuiltIn()).Value!;
        Assert.Equal(("bay1", CaseLevel.Easy, CaseOrigin.Recorded), (its.Machine, its.Level, its.Made));
        Assert.Contains("| 2026-04-14 13:40:14 | alarm | air-pressure-low |", its.Notes, StringComparison.Ordinal);
        Assert.Contains("| 2026-04-14 13:30 | air_pressure | 211.2 kPa |", its.Notes, StringComparison.Ordinal);
        Assert.DoesNotContain("alarm,", Text(At("empty-tank")), StringComparison.Ordinal);

        // With half the history the rules still say the same, at the same second.
        var (_, alarms, _) = await AgentProcess.RunAsync("replay", Path.Combine(At("empty-tank"), "recording.lp.gz"), "--alarms", "-");
        Assert.Contains("\"time\":\"2026-04-14T13:40:14Z\",\"machine\":\"bay1\",\"condition\":\"air-pressure-low\",\"state\":\"unacknowledged\"", alarms, StringComparison.Ordinal);

        (exit, output, error) = await AgentProcess.RunAsync("case", "new", "bay1", "--store", Store, "--alarm", "air-pressure-low", "--out", At("empty-tank"));
        Assert.Equal((3, ""), (exit, output));
        Assert.Equal($"laserwatch: cannot make {At("empty-tank")}: {At("empty-tank")} is there already, and nothing is ever written over; name another folder.", error.TrimEnd());
    }

    [Fact]
    public async Task The_history_leaps_over_the_night_to_the_day_before()
    {
        await StoreAsync("quiet-tuesday");
        string[] cut = ["case", "new", "bay1", "--store", Store, "--from", "2026-07-07T09:30:00Z", "--to", "2026-07-07T10:28:00Z"];

        var (_, _, today) = await AgentProcess.RunAsync([.. cut, "--history", "20m", "--out", At("a")]);
        var (_, _, yesterday) = await AgentProcess.RunAsync([.. cut, "--history", "50m", "--out", At("b")]);
        var (_, _, tooMuch) = await AgentProcess.RunAsync([.. cut, "--history", "9h", "--out", At("c")]);

        Assert.Contains("history from 2026-07-07 09:0", today, StringComparison.Ordinal);
        Assert.Contains("history from 2026-07-06 10:0", yesterday, StringComparison.Ordinal);
        Assert.Contains("less history than asked for (540 min) lies in the 60 days before", tooMuch, StringComparison.Ordinal);
        Assert.True(Text(At("a")).Length < Text(At("b")).Length && Text(At("b")).Length < Text(At("c")).Length);
    }

    [Fact]
    public async Task On_request_no_name_of_a_person_is_left_in_any_file()
    {
        await StoreAsync("plywood-morning");
        await AddPeopleAsync();
        string[] cut = ["case", "new", "bay1", "--store", Store, "--from", "2026-03-09T09:30:00Z", "--to", "2026-03-09T10:06:00Z", "--with-alarms"];

        await AgentProcess.RunAsync([.. cut, "--out", At("with")]);
        var (exit, _, error) = await AgentProcess.RunAsync([.. cut, "--out", At("without"), "--without-names", "--machine-as", "laser"]);

        Assert.Equal(0, exit);
        Assert.Contains("look for names yourself in those of the jobs (acrylic-3-cut, birch-6-cut)", error, StringComparison.Ordinal);
        Assert.All((string[])["Mirela", "T-000777", "bay1"], word => Assert.Contains(word, Whole(At("with")), StringComparison.OrdinalIgnoreCase));
        Assert.All((string[])["Mirela", "T-000777", "bay1"], word => Assert.DoesNotContain(word, Whole(At("without")), StringComparison.OrdinalIgnoreCase));
        Assert.Contains("by=\"operator 1\"", Whole(At("without")), StringComparison.Ordinal);
        Assert.Contains("service,machine=laser part=\"lens\",action=\"cleaned\",by=\"operator 1\",minutes=\"7\"", Whole(At("without")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_people_said_of_the_time_is_the_answer_and_stands_in_the_sheet_and_not_in_the_recording()
    {
        await StoreAsync("plywood-morning");
        var morning = Instant.From(new DateTimeOffset(2026, 3, 9, 9, 0, 0, TimeSpan.Zero));
        await AddAsync(
            new Annotation("bay1", "0000000a", AnnotationKind.Ignore, morning + TimeSpan.FromMinutes(20), morning + TimeSpan.FromMinutes(22), null, "a trial", "Mirela", null),
            new Annotation("bay1", "0000000b", AnnotationKind.Faulty, morning + TimeSpan.FromMinutes(51), morning + TimeSpan.FromMinutes(66), "air-hose-kink", null, "Mirela", null));

        var (exit, _, error) = await RunAsync(
            "case", "new", "bay1", "--store", Store, "--alarm", "air-pressure-low", "--at", "2026-03-09T09:50:00Z", "--before", "20m", "--out", At("annotated"), "--without-names");

        Assert.True(exit == 0, error);
        Assert.Contains("\"causes\": [\n    \"air-hose-kink\"\n  ],\n  \"began\": \"2026-03-09T09:51:00Z\"", File.ReadAllText(Path.Combine(At("annotated"), "case.json")), StringComparison.Ordinal);
        Assert.DoesNotContain("0000000b", Text(At("annotated")), StringComparison.Ordinal);
        Assert.Contains("action=\"ignore\",by=\"operator 1\",from=\"2026-03-09T09:20:00Z\",id=\"0000000a\",to=\"2026-03-09T09:22:00Z\"", Text(At("annotated")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_was_made_up_is_marked_so_and_stays_so()
    {
        await CaseFolder.CopyAsync("plywood-morning", At("shop"));
        Assert.Equal(0, (await RunAsync("replay", Path.Combine(At("shop"), "recording.lp.gz"), "--store", Store)).ExitCode);

        var (exit, _, error) = await RunAsync("case", "new", "bay1", "--store", Store, "--alarm", "air-pressure-low", "--out", At("again"));

        Assert.Equal(0, exit);
        Assert.Contains("holds training data: none of this is of a real machine", error, StringComparison.Ordinal);
        Assert.Contains("\"made\": \"simulated\"", File.ReadAllText(Path.Combine(At("again"), "case.json")), StringComparison.Ordinal);
        Assert.StartsWith(Encoding.UTF8.GetString(RecordingReader.TrainingMark), Text(At("again")), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(2, "Give --alarm CONDITION, or --from and --to.")]
    [InlineData(2, "Give --from and --to together.", "--from", "2026-03-09")]
    [InlineData(2, "--before needs --alarm.", "--from", "2026-03-09", "--to", "2026-03-10", "--before", "3m")]
    [InlineData(2, "--from must be before --to.", "--from", "2026-03-10", "--to", "2026-03-09")]
    [InlineData(2, "'soon' is not a duration: write 30m, 8h or 2d.", "--alarm", "air-pressure-low", "--after", "soon")]
    [InlineData(2, "--nothing-wrong goes with neither --cause nor --began.", "--alarm", "air-pressure-low", "--nothing-wrong", "--cause", "air-leak")]
    [InlineData(2, "--cause: there is no 'air-leek' in causes.json; did you mean 'air-leak'?", "--alarm", "air-pressure-low", "--cause", "air-leek")]
    [InlineData(1, "the store has no raising of 'coolant-hot' at bay1; it has air-pressure-low.", "--alarm", "coolant-hot")]
    [InlineData(3, "cannot make", "--from", "2025-03-09", "--to", "2025-03-10")]
    public async Task Bad_usage_is_one_line(int status, string line, params string[] arguments)
    {
        await StoreAsync("plywood-morning");
        var (exit, output, error) = await RunAsync(["case", "new", "bay1", "--store", Store, "--out", At("x"), .. arguments]);

        Assert.Equal((status, ""), (exit, output));
        Assert.StartsWith("laserwatch: " + line, error, StringComparison.Ordinal);
        Assert.Single(error.TrimEnd().Split('\n'));
        Assert.False(Path.Exists(At("x")));
    }

    [Fact]
    public async Task Another_name_is_answered_with_the_nearest_case()
    {
        Assert.Equal((3, "", "laserwatch: there is no shipped case and no folder 'lon-cut'; did you mean 'long-cut'?\n"), await RunAsync("case", "show", "lon-cut"));
        Assert.Equal((2, "", "laserwatch: 'Big_Case' is not a case's name: the folder's name is the case's, 1 to 48 of a-z, 0-9 and '-'.\n"), await RunAsync("case", "copy", "long-cut", "--out", At("Big_Case")));
    }

    [Fact]
    public async Task Own_cases_are_listed_beside_the_shipped_ones_and_one_with_mistakes_is_told()
    {
        await CaseFolder.CopyAsync("long-cut", At("ours"));
        Assert.Contains(At("ours"), (await RunAsync("case", "list", "--in", _folder.Path)).Out, StringComparison.Ordinal);

        File.Delete(Path.Combine(At("ours"), "notes.md"));
        var (exit, _, error) = await RunAsync("case", "list", "--in", _folder.Path);
        Assert.Equal(1, exit);
        Assert.Contains("notes.md: there is no such file", error, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Who_builds_the_program_makes_the_recordings_anew_with_one_command()
    {
        var (exit, output, error) = await RunAsync("case", "make", "--out", _folder.Path, "plywood-morning");

        Assert.Equal((0, ""), (exit, error));
        Assert.StartsWith(Path.Combine(_folder.Path, "plywood-morning", "recording.lp.gz"), output, StringComparison.Ordinal);
        Assert.Equal(Unpacked(Path.Combine(Repository.Folder, "config", "cases", "plywood-morning")), Unpacked(At("plywood-morning")));
    }

    private string Store => _folder.File("laserwatch.db");

    private string At(string name) => _folder.File(name);

    private static async Task<string> ShowAsync(string name)
    {
        var (exit, output, error) = await RunAsync("case", "show", name);
        Assert.Equal((0, ""), (exit, error));
        return output;
    }

    private async Task StoreAsync(string name)
    {
        // Without its first line, which says that it is of no real machine.
        await CaseFolder.CopyAsync(name, At("shop"));
        await File.WriteAllTextAsync(At("shop.lp"), Text(At("shop"))[RecordingReader.TrainingMark.Length..]);
        var (exit, _, error) = await RunAsync("replay", At("shop.lp"), "--store", Store);
        Assert.True(exit == 0, error);
    }

    private async Task AddPeopleAsync()
    {
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = Store });
        var batch = new StoreBatch();
        var at = Instant.From(new DateTimeOffset(2026, 3, 9, 9, 44, 0, TimeSpan.Zero));
        batch.ServiceEvents.Add(new ServiceEvent(
            "bay1", at, "lens", "cleaned", "T-000777", "Mirela found it hazy", new Dictionary<string, string> { ["by"] = "Mirela", ["minutes"] = "7", ["told"] = "by mirela" }));
        batch.AlarmChanges.Add(new AlarmChange(
            at + TimeSpan.FromMinutes(9), "bay1", Conditions.AirPressureLow, AlarmState.Acknowledged, AlarmPriority.High, 152, 189, "kPa", "birch-6-cut", "Mirela: seen to", [], [], "Mirela"));
        await store.AppendAsync(batch, CancellationToken.None);
    }

    private async Task AddAsync(params Annotation[] annotations)
    {
        await using var store = SqliteTelemetryStore.Open(new StoreOptions { Path = Store });
        var batch = new StoreBatch();
        batch.ServiceEvents.AddRange(annotations.Select(annotation => annotation.ToEvent()));
        await store.AppendAsync(batch, CancellationToken.None);
    }

    private static void Fill(string folder)
    {
        foreach (var file in (string[])["case.json", "notes.md"])
        {
            var path = Path.Combine(folder, file);
            File.WriteAllText(path, File.ReadAllText(path).Replace("FILL IN: ", "", StringComparison.Ordinal));
        }
    }

    private static string Text(string folder) => Encoding.UTF8.GetString(Unpacked(folder));

    private static string Whole(string folder) => Text(folder) + File.ReadAllText(Path.Combine(folder, "case.json")) + File.ReadAllText(Path.Combine(folder, "notes.md"));

    private static byte[] Unpacked(string folder)
    {
        using var gzip = new GZipStream(File.OpenRead(Path.Combine(folder, "recording.lp.gz")), CompressionMode.Decompress);
        using var bytes = new MemoryStream();
        gzip.CopyTo(bytes);
        return bytes.ToArray();
    }

    private static async Task<(int ExitCode, string Out, string Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter { NewLine = "\n" };
        using var error = new StringWriter { NewLine = "\n" };
        var exitCode = await Program.RunAsync(arguments, output, error);
        return (exitCode, output.ToString(), error.ToString());
    }
}
