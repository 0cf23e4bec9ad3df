using LaserWatch.Configuration;
using LaserWatch.Storage;

namespace LaserWatch.Cases;

public sealed class CaseFolderTests : IDisposable
{
    private const string Good = """
        {
          "title": "A title",
          "machine": "bay1",
          "level": "hard",
          "causes": ["air-leak", "air-hose-kink"],
          "began": "2026-03-09T07:30:02Z",
          "checks": ["air-hose"],
          "summary": "Something happens.",
          "made": "recorded"
        }
        """;

    private const string Line = "telemetry,machine=bay1 air_pressure=210 1773041400000000000\ntelemetry,machine=bay1 air_pressure=150 1773041410000000000\n";

    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_sound_folder_is_read_whole()
    {
        var its = CaseFolder.Read(Make(), CausesFile.ReadBuiltIn()).Value!;

        Assert.Equal(("some-case", "A title", "bay1", CaseLevel.Hard, CaseOrigin.Recorded), (its.Name, its.Title, its.Machine, its.Level, its.Made));
        Assert.Equal(["air-leak", "air-hose-kink"], its.Causes);
        Assert.Equal("2026-03-09T07:30:02.000Z", its.Began.ToString());
        Assert.Equal("# Notes", its.Notes);
        Assert.Null(its.WatchFrom);
        Assert.Empty(Lines(Make()));
    }

    [Theory]
    [InlineData("\"air-leak\"", "\"air-leek\"", "case.json:5: causes[0]: there is no cause 'air-leek': did you mean 'air-leak'?")]
    [InlineData("\"air-hose\"]", "\"hose-air\"]", "case.json:7: checks[0]: there is no check 'hose-air': name a check of causes.json:")]
    [InlineData("\"air-leak\", \"air-hose-kink\"", "", "case.json:6: began: nothing is wrong, and yet it began: write null, or name the cause")]
    [InlineData("\"air-leak\", \"air-hose-kink\"", "\"air-leak\", \"air-leak\"", "case.json:5: causes[1]: 'air-leak' stands there twice: take one of them out")]
    [InlineData("\"hard\"", "\"heavy\"", "case.json:4: level: \"heavy\" is not one of the words allowed: ")]
    [InlineData("2026-03-09T07:30:02Z", "yesterday", "case.json:6: began: 'yesterday' is not a date or time: write when it began to go wrong")]
    [InlineData("2026-03-09T07:30:02Z", "2026-03-10T07:30:02Z", "case.json: began: 2026-03-10T07:30:02Z is outside the recording: write a time from 2026-03-09T07:30:00Z to 2026-03-09T07:30:10Z")]
    [InlineData("\"bay1\"", "\"bay2\"", "case.json: machine: 'bay2' is not in the recording, which is of bay1: write \"bay1\"")]
    [InlineData("\"A title\"", "\"FILL IN: a title\"", "case.json:2: title: still to be filled in: write what the case is called in a list, without the answer")]
    [InlineData("  \"made\": \"recorded\"\n", "  \"by\": 1\n", "case.json:9: by: there is no such key")]
    public void Each_mistake_of_the_sheet_is_one_line_with_its_place_and_mend(string from, string to, string line) =>
        Assert.Contains(Lines(Make(sheet: Good.ReplaceLineEndings("\n").Replace(from, to, StringComparison.Ordinal))), l => l.StartsWith(line, StringComparison.Ordinal));

    [Fact]
    public void What_is_missing_is_told_all_at_once()
    {
        var folder = _folder.File("Some_Case");
        Directory.CreateDirectory(folder);

        Assert.Collection(
            CaseFolder.Read(folder, CausesFile.ReadBuiltIn()).Mistakes.Select(mistake => mistake.ToString()[(folder.Length + 2)..]),
            line => Assert.Equal("'Some_Case' is not a case's name: name the folder with 1 to 48 of a-z, 0-9 and '-'", line),
            line => Assert.Equal("there is neither recording.lp.gz nor recording.lp: put the recording there", line),
            line => Assert.EndsWith("there is no such file: write there what happened, what the data showed when, and what to learn", line, StringComparison.Ordinal),
            line => Assert.EndsWith("there is no such file: copy that of a shipped case and change it", line, StringComparison.Ordinal));
        Assert.Single(CaseFolder.Read(_folder.File("none"), CausesFile.ReadBuiltIn()).Mistakes);
    }

    [Theory]
    [InlineData("telemetry,machine=bay2 air_pressure=1 1773041401000000000\n", "the recording holds several machines: bay1, bay2: a case is of one machine")]
    [InlineData("nonsense\n", "the recording has 1 line(s) that cannot be read: ")]
    public void A_recording_that_would_not_play_is_told(string line, string mistake) =>
        Assert.Contains(Lines(Make(recording: Line + line)), l => l.Contains(mistake, StringComparison.Ordinal));

    [Fact]
    public void A_place_left_open_in_the_notes_is_told_with_its_line() =>
        Assert.Contains("notes.md:3: still to be filled in: what it was", Lines(Make(notes: "# A\n\nFILL IN: what it was\n")));

    [Fact]
    public async Task A_folder_that_is_there_is_never_written_over_and_none_is_left_half_made()
    {
        var folder = Make();
        var before = File.ReadAllText(Path.Combine(folder, "case.json"));

        await Assert.ThrowsAsync<IOException>(() => CaseFolder.WriteAsync(folder, "{}", _ => Task.FromResult(1), (_, _) => ""));
        await Assert.ThrowsAsync<InvalidOperationException>(
            () => CaseFolder.WriteAsync<int>(_folder.File("other"), "{}", _ => throw new InvalidOperationException(), (_, _) => ""));

        Assert.Equal(before, File.ReadAllText(Path.Combine(folder, "case.json")));
        Assert.Equal([folder], Directory.GetDirectories(_folder.Path));
    }

    private string Make(string sheet = Good, string recording = Line, string notes = "# Notes")
    {
        var folder = _folder.File("some-case");
        Directory.CreateDirectory(folder);
        File.WriteAllText(Path.Combine(folder, "case.json"), sheet);
        File.WriteAllText(Path.Combine(folder, "recording.lp"), recording);
        File.WriteAllText(Path.Combine(folder, "notes.md"), notes);
        return folder;
    }

    private static List<string> Lines(string folder) =>
        [.. CaseCheckup.Of(folder, CausesFile.ReadBuiltIn()).Mistakes.Select(mistake => mistake.ToString().Replace(folder + Path.DirectorySeparatorChar, "", StringComparison.Ordinal))];
}
