using LaserWatch.Mqtt;

namespace LaserWatch.EndToEnd;

/// <summary>A person at a replay, by lines on its standard input; what listeners are told is what <c>mosquitto_sub</c> says.</summary>
public sealed class ReplayControlTests : IDisposable
{
    private const long First = 1_773_041_400; // 2026-03-09T07:30:00Z

    private readonly string _folder = Directory.CreateTempSubdirectory("lw-control").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [SkippableFact]
    public async Task Lines_pause_step_seek_hurry_and_stop_and_listeners_are_told_where_they_are()
    {
        await using var broker = await RealBroker.StartAsync();
        var heard = await broker.ListenAsync("training/#");
        using var replay = AgentProcess.StartTold("replay", Recording(), "--to", $"mqtt://127.0.0.1:{broker.Port}", "--speed", "1", "--control");
        await HearsAsync("power 10");

        await replay.TellAsync("hold");
        await replay.SaysAsync("Z held");
        await replay.TellAsync("next");
        await replay.SaysAsync("2026-03-09T07:31:00.000Z held: run start a (bay1)");
        await HearsAsync("power 10", "power 10", "job start a");

        await replay.TellAsync("next");
        await replay.SaysAsync("2026-03-09T07:35:00.000Z held: run end (bay1)");
        await HearsAsync("power 10", "power 10", "job start a", "job end a", "job start a", "power 50", "job end a");

        // Over a service and into a run.
        await replay.TellAsync("to 07:46:00");
        await replay.SaysAsync("2026-03-09T07:46:00.000Z held");
        await HearsAsync(7, "service lens cleaned", "job start b", "power 60");

        // Back to before it.
        await replay.TellAsync("by -10m");
        await replay.SaysAsync("2026-03-09T07:36:00.000Z held");
        await HearsAsync(10, "job end b", "power 50");

        await replay.TellAsync("next");
        await replay.SaysAsync("2026-03-09T07:40:00.000Z held: service: lens cleaned (bay1)");
        await replay.TellAsync("next");
        await replay.SaysAsync("2026-03-09T07:45:00.000Z held: run start b (bay1)");
        await replay.TellAsync("next");
        await replay.SaysAsync("2026-03-09T07:45:10.000Z held: alarm air-pressure-low, high (bay1)");
        await replay.TellAsync("hurry");
        await replay.SaysAsync("'hurry' is no control; there are: hold, go");
        await replay.TellAsync("pace 0");
        await replay.SaysAsync("'0' is no pace: write a number from 0.1 to 1000");
        await replay.TellAsync("pace 2");
        await replay.SaysAsync("2026-03-09T07:45:10.000Z held, to go on at 2x");
        await replay.TellAsync("go");
        await replay.SaysAsync("Z playing at 2x");
        var before = heard.Lines.Count;
        await replay.TellAsync("end");

        Assert.Equal(0, await replay.EndsAsync());
        await replay.SaysAsync($"message(s) to 127.0.0.1:{broker.Port} below training/laserwatch, ended at 2026-03-09T07:45:1");

        // The run is not left under way.
        await HearsAsync(before, "job end b");

        Task HearsAsync(params object[] lines)
        {
            var (skip, words) = lines is [int number, ..] ? (number, lines[1..]) : (0, lines);
            return RealBroker.UntilAsync(
                () => Words(heard).Skip(skip).SequenceEqual(words.Cast<string>()),
                $"not heard: {string.Join(", ", words)}; heard: {string.Join(", ", Words(heard).Skip(skip))}; it said:\n{replay.Output}\n");
        }
    }

    [SkippableFact]
    public async Task A_broker_that_goes_away_ends_it_with_one_line_that_says_how_far_it_came()
    {
        await using var broker = await RealBroker.StartAsync();
        var path = Path.Combine(_folder, "b.lp");
        File.WriteAllLines(path, Enumerable.Range(0, 600).Select(i => Line($"telemetry,machine=bay1 power={i}", i)));
        using var replay = AgentProcess.StartTold("replay", path, "--to", $"mqtt://127.0.0.1:{broker.Port}", "--speed", "10", "--control");
        await replay.TellAsync("hold");
        await replay.SaysAsync("Z held");
        await broker.StopAsync();
        await replay.TellAsync("go");

        Assert.Equal(3, await replay.EndsAsync());
        await replay.SaysAsync($"laserwatch: {path} was published up to 2026-03-09T07:3");
    }

    [SkippableFact]
    public async Task On_a_terminal_keys_do_it_and_all_is_plain_text()
    {
        Needs.Program("tmux");
        await using var broker = await RealBroker.StartAsync();
        var heard = await broker.ListenAsync("training/#");
        await using var terminal = await Terminal.StartAsync(_folder, "replay", Recording(), "--to", $"mqtt://127.0.0.1:{broker.Port}", "--speed", "1");

        await terminal.ShowsAsync("h hold, go | n next event");
        await terminal.ShowsAsync("Z playing at 1x");
        await terminal.PressAsync("h");
        await terminal.ShowsAsync("Z held");
        await terminal.PressAsync("n");
        await terminal.ShowsAsync("2026-03-09T07:31:00.000Z held: run start a (bay1)");
        await terminal.PressAsync("F");
        await terminal.ShowsAsync("2026-03-09T07:41:00.000Z held");
        await terminal.PressAsync("b");
        await terminal.ShowsAsync("2026-03-09T07:40:00.000Z held");
        await terminal.PressAsync("2");
        await terminal.ShowsAsync("held, to go on at 2x");
        await terminal.PressAsync("w", "to 07:46", "Enter");
        await terminal.ShowsAsync("2026-03-09T07:46:00.000Z held");
        await RealBroker.UntilAsync(() => Words(heard).LastOrDefault() == "power 60", $"not heard: {string.Join(", ", Words(heard))}");
        await terminal.PressAsync("e");
        await terminal.ShowsAsync("ended at 2026-03-09T07:46:00.000Z");
        await terminal.ShowsAsync("status=0");

        // Asked of the terminal itself: nothing was said by colour.
        Assert.DoesNotContain("\u001b[", await terminal.ScreenAsync(withAttributes: true), StringComparison.Ordinal);
    }

    private static IEnumerable<string> Words(Listener heard) => heard.Lines.Select(line =>
    {
        var space = line.IndexOf(' ', StringComparison.Ordinal);
        using var json = System.Text.Json.JsonDocument.Parse(line[(space + 1)..]);
        var told = json.RootElement.EnumerateObject().Where(p => p.Name != "time").Select(p => p.Value.ToString());
        return $"{line[..space].Split('/')[^1]} {string.Join(' ', told)}";
    });

    private string Recording()
    {
        var path = Path.Combine(_folder, "a.lp");
        File.WriteAllLines(path, [
            Line("telemetry,machine=bay1 power=10", 0),
            Line("""job_run,machine=bay1 event="start",job="a" """.TrimEnd(), 60),
            Line("telemetry,machine=bay1 power=50", 61),
            Line("""job_run,machine=bay1 event="end",job="a" """.TrimEnd(), 300),
            Line("""service,machine=bay1 part="lens",action="cleaned" """.TrimEnd(), 600),
            Line("""job_run,machine=bay1 event="start",job="b" """.TrimEnd(), 900),
            Line("telemetry,machine=bay1 power=60", 905),
            Line("""alarm,machine=bay1,condition=air-pressure-low state="unacknowledged",priority="high" """.TrimEnd(), 910),
            Line("""job_run,machine=bay1 event="end",job="b" """.TrimEnd(), 1200),
            Line("telemetry,machine=bay1 power=9", 3600),
        ]);
        return path;
    }

    private static string Line(string what, int second) => $"{what} {First + second}000000000";
}
