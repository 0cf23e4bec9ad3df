using System.Text.Json;
using LaserWatch.Storage;

namespace LaserWatch.Cli;

public sealed class PractiseCommandTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public async Task A_script_plays_to_its_debrief_and_adds_a_line_to_the_results()
    {
        var script = Script("at 1100 acknowledge air-pressure-low", "at 1110 check regulator", "at 1120 check lens", "at 1130 cause air-hose-kink");

        var (exit, text, error) = await RunAsync("plywood-morning", "--script", script, "--name", "Ada");
        var (again, _, _) = await RunAsync("plywood-morning", "--script", Script("at 60 nothing-is-wrong"));

        Assert.Equal((0, "", 1), (exit, error, again));
        Assert.Contains("09:52:20  you: acknowledge air-pressure-low. air-pressure-low: acknowledged.", text, StringComparison.Ordinal);
        Assert.Contains("Time to notice     50 s: at 09:52:20, acknowledge air-pressure-low", text, StringComparison.Ordinal);
        Assert.Contains("Time to the cause  1 min 20 s", text, StringComparison.Ordinal);
        Assert.Contains("Effort of checks   1 min needed, 5 min not needed", text, StringComparison.Ordinal);
        Assert.Contains("left out    air-hose   2.5 min", text, StringComparison.Ordinal);
        Assert.EndsWith($"the next run. Ten minutes later nothing was different but the scrap.\n\n{Alarms.Cautions.Advisory}\n", text, StringComparison.Ordinal);

        var lines = await File.ReadAllLinesAsync(_folder.File("results"));
        Assert.Equal(2, lines.Length);
        Assert.All(lines, SentKeys.HoldIn);
        using var first = JsonDocument.Parse(lines[0]);
        using var second = JsonDocument.Parse(lines[1]);
        var (one, two) = (first.RootElement, second.RootElement);
        Assert.Equal(("Ada", "right", "air-hose-kink"), (one.GetProperty("name").GetString(), one.GetProperty("verdict").GetString(), one.GetProperty("answer").GetString()));
        Assert.Equal((50, 80), (one.GetProperty("seconds_to_notice").GetDouble(), one.GetProperty("seconds_to_cause").GetDouble()));
        Assert.Equal((1, 5), (one.GetProperty("minutes_needed").GetDouble(), one.GetProperty("minutes_not_needed").GetDouble()));
        Assert.False(two.TryGetProperty("name", out _));
        Assert.Equal(("wrong", "nothing-is-wrong"), (two.GetProperty("verdict").GetString(), two.GetProperty("answer").GetString()));
        Assert.Equal(JsonValueKind.Null, two.GetProperty("seconds_to_notice").ValueKind);
    }

    [Fact]
    public async Task Two_plays_of_one_script_say_the_same()
    {
        var script = Script("at 900 trend air_pressure", "at 1100 reading air_pressure", "at 1200 give-up");
        Assert.Equal((await RunAsync("plywood-morning", "--script", script)).Out, (await RunAsync("plywood-morning", "--script", script)).Out);
    }

    [Theory]
    [InlineData("at 10 cause air-hose-knik", 2, "line 1: there is no cause 'air-hose-knik'; did you mean 'air-hose-kink'?.")]
    [InlineData("at 10 sing", 2, "line 1: there is no act 'sing'; there is ")]
    [InlineData("at 90000 stop", 2, "line 1: the recording is over ")]
    public async Task A_script_that_cannot_be_done_is_one_line_and_keeps_nothing(string line, int status, string told)
    {
        var script = Script(line);
        var (exit, _, error) = await RunAsync("plywood-morning", "--script", script);

        Assert.Equal(status, exit);
        Assert.StartsWith($"laserwatch: {script}, {told}", error, StringComparison.Ordinal);
        Assert.Equal(1, error.Count(c => c == '\n'));
        Assert.True(!File.Exists(_folder.File("results")) || new FileInfo(_folder.File("results")).Length == 0);
    }

    [Fact]
    public async Task Without_a_terminal_it_says_so_in_one_line()
    {
        var (exit, output, error) = await RunAsync("plywood-morning");

        Assert.Equal((2, ""), (exit, output));
        Assert.Equal("laserwatch: practise draws on a terminal and reads its keys, and this is none: run it in one, or give --script FILE.\n", error);
    }

    [Fact]
    public async Task A_results_log_that_cannot_be_written_is_told_before_anything_is_played()
    {
        var (exit, output, error) = await RunAsync("plywood-morning", "--script", Script("at 1 done"), "--log", _folder.Path);

        Assert.Equal((3, ""), (exit, output));
        Assert.StartsWith($"laserwatch: cannot keep the result in {_folder.Path}: ", error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("--speed", "0")]
    [InlineData("--speed", "NaN")]
    [InlineData("--speed", "1001")]
    [InlineData("--name", "")]
    public async Task Values_out_of_bounds_are_bad_usage(string option, string value)
    {
        var (exit, _, error) = await RunAsync("plywood-morning", option, value);
        Assert.Equal(2, exit);
        Assert.StartsWith($"laserwatch: {option} is 1 to ", error, StringComparison.Ordinal);
    }

    private string Script(params string[] lines)
    {
        var path = _folder.File($"script-{Guid.NewGuid():N}");
        File.WriteAllLines(path, lines);
        return path;
    }

    private async Task<(int Exit, string Out, string Error)> RunAsync(params string[] arguments)
    {
        using var output = new StringWriter { NewLine = "\n" };
        using var error = new StringWriter { NewLine = "\n" };
        string[] log = arguments.Contains("--log") ? [] : ["--log", _folder.File("results")];
        var exit = await Program.RunAsync(["practise", .. arguments, .. log], output, error);
        return (exit, output.ToString(), error.ToString());
    }
}
