using LaserWatch.Diagnosis;

namespace LaserWatch.Configuration;

public sealed class CausesFileTests : IDisposable
{
    private static readonly string Shipped = Path.Combine(Repository.Folder, "config", "causes.json");

    private readonly string _folder = Directory.CreateTempSubdirectory("laserwatch-causes-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void The_built_in_table_is_the_file_in_config_and_has_no_mistake()
    {
        var read = CausesFile.Read(Shipped);
        var builtIn = CausesFile.ReadBuiltIn();

        Assert.Empty(read.Mistakes);
        Assert.Equal(read.Value!.Causes.Select(c => (c.Id, c.Weight)), builtIn.Causes.Select(c => (c.Id, c.Weight)));
        Assert.Equal(read.Value.Signs.SelectMany(s => s.Answers).Select(a => a.Id), builtIn.Signs.SelectMany(s => s.Answers).Select(a => a.Id));
    }

    [Theory]
    [InlineData("lens-dirty", "lens-damaged", "lens-wrong", "mirrors-dirty", "mirrors-misaligned", "combiner-dirty", "tube-window-dirty", "nozzle-dirty", "nozzle-off-centre")]
    [InlineData("focus-gap", "bed-level", "material-not-flat", "material-different", "speed-wrong", "power-wrong", "job-wrong")]
    [InlineData("air-set-low", "air-hose-kink", "air-leak", "air-compressor", "air-water", "coolant-warm", "coolant-flow-low", "condensation")]
    [InlineData("tube-aged", "supply-failing", "command-path", "mains-low", "sensor-fault")]
    public void The_causes_that_sensors_see_and_those_that_they_cannot_see_are_all_in_it(params string[] causes) =>
        Assert.All(causes, cause => Assert.NotNull(CauseModels.BuiltIn.FindCause(cause)));

    [Fact]
    public void What_only_a_taught_or_qualified_person_may_do_says_so()
    {
        foreach (var check in (string[])["supply", "tube", "mains", "command", "alignment"])
            Assert.Contains("nly", CauseModels.BuiltIn.FindCheck(check)!.Safety, StringComparison.Ordinal);
        foreach (var sign in (string[])["probe-head", "probe-tube"])
            Assert.Contains("Only who was taught it", CauseModels.BuiltIn.FindSign(sign)!.Safety, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("\"settings\", \"mend\": \"set the recorded speed\"", "\"setings\", \"mend\": \"set the recorded speed\"", "causes.speed-wrong.check: there is no check 'setings': did you mean 'settings'?")]
    [InlineData("\"weight\": 13", "\"weight\": 0", "causes.lens-dirty.weight: 0 is out of range: write a number from 0.01 to 1000")]
    [InlineData("\"tube-aged\": 0.4, \"high", "\"tube-aged\": 0, \"high", "signs.tube-current.answers.tube-current-low.with.tube-aged: a chance is from 0.01 to 0.97: nothing is certain: write one of these")]
    [InlineData("\"air-set-low\": 0.9,", "\"air-sett-low\": 0.9,", "signs.air-pressure.answers.air-pressure-low.with.air-sett-low: there is no cause 'air-sett-low': did you mean 'air-set-low'?")]
    [InlineData("\"pale-discharge\": {", "\"flames\": {", "signs.discharge.answers.flames: the sign 'flames' has an answer of this name: take another name")]
    [InlineData("\"about\": \"a knock\", \"minutes\": 0.5,", "\"about\": \"a knock\",", "signs.knock: 'minutes' and 'how' go together: write both, or neither where only sensors answer it")]
    [InlineData("\"check\": \"exhaust\"", "\"check\": \"lens\"", "checks.exhaust: no cause names this check: name it at the cause that it finds, or take it out")]
    [InlineData("\"combiner-dirty\": 0.7, \"tube-window-dirty\": 0.7", "\"combiner-dirty\": 0.8, \"tube-window-dirty\": 0.7", "signs.course.answers: the chances of all answers with 'combiner-dirty' sum to 1.04: make them 0.98 at most: it may also be none of them")]
    [InlineData("\"beamHoursADay\": 4", "\"beamHoursADay\": 4, \"hours\": 1", "hours: there is no such key: use one of $schema, somethingElse, beamHoursADay, causes, checks, signs")]
    public void Every_mistake_is_one_line_with_its_place_and_the_mend(string right, string wrong, string mistake)
    {
        var text = File.ReadAllText(Shipped);
        Assert.Contains(right, text, StringComparison.Ordinal);
        var path = Path.Combine(_folder, "causes.json");
        File.WriteAllText(path, text.Replace(right, wrong, StringComparison.Ordinal));

        var read = CausesFile.Read(path);

        Assert.Null(read.Value);
        var line = Assert.Single(read.Mistakes).ToString();
        Assert.Matches($"^{System.Text.RegularExpressions.Regex.Escape(path)}:[0-9]+: {System.Text.RegularExpressions.Regex.Escape(mistake)}$", line);
    }

    [Fact]
    public void The_configuration_may_name_the_shops_own_and_tells_its_mistakes_with_the_rest()
    {
        var config = Path.Combine(_folder, "laserwatch.json");
        File.WriteAllText(config, """{ "diagnosis": { "causes": "own.json" } }""");
        Assert.Contains("there is no file", Assert.Single(ConfigurationFile.Read(config).Mistakes).ToString(), StringComparison.Ordinal);

        File.WriteAllText(Path.Combine(_folder, "own.json"), File.ReadAllText(Shipped).Replace("\"weight\": 13", "\"weight\": 26", StringComparison.Ordinal));
        Assert.Equal(26, ConfigurationFile.Read(config).Value!.Causes!.FindCause("lens-dirty")!.Weight);

        File.WriteAllText(Path.Combine(_folder, "own.json"), "{ }");
        Assert.All(ConfigurationFile.Read(config).Mistakes, m => Assert.EndsWith("own.json", m.File, StringComparison.Ordinal));
    }
}
