using System.Text.RegularExpressions;
using LaserWatch.Configuration;
using LaserWatch.Storage;
using Microsoft.Extensions.Logging;
using Serilog.Extensions.Logging;

namespace LaserWatch;

public sealed partial class AgentLogTests : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_line_of_the_file_says_when_how_grave_what_and_from_where()
    {
        var lines = Logged(LogSeverity.Debug, log => Say(log, LogLevel.Warning, "The broker a\r\nb has gone"));

        Assert.Matches(Line(), Assert.Single(lines));
    }

    [Fact]
    public void The_text_of_a_fault_follows_set_in()
    {
        var lines = Logged(LogSeverity.Debug, log => Say(log, LogLevel.Error, "It broke", new InvalidOperationException("one\ntwo")));

        Assert.EndsWith("] error: It broke (Pipeline.WatchWorker)", lines[0], StringComparison.Ordinal);
        Assert.Equal(["    System.InvalidOperationException: one", "    two"], lines[1..]);
    }

    [Theory]
    [InlineData(LogSeverity.Debug, "debug informational warning error critical")]
    [InlineData(LogSeverity.Informational, "informational warning error critical")]
    [InlineData(LogSeverity.Notice, "warning error critical")]
    [InlineData(LogSeverity.Warning, "warning error critical")]
    [InlineData(LogSeverity.Error, "error critical")]
    [InlineData(LogSeverity.Critical, "critical")]
    [InlineData(LogSeverity.Alert, "")]
    [InlineData(LogSeverity.Emergency, "")]
    public void What_is_at_least_as_grave_is_logged_by_the_words_of_RFC_5424(LogSeverity least, string words)
    {
        var lines = Logged(least, log =>
        {
            foreach (var level in (LogLevel[])[LogLevel.Debug, LogLevel.Information, LogLevel.Warning, LogLevel.Error, LogLevel.Critical])
                Say(log, level, "x");
        });

        Assert.Equal(words, string.Join(' ', lines.Select(line => line.Split(' ')[1].TrimEnd(':'))));
    }

    [Fact]
    public void The_words_are_those_of_RFC_5424_in_its_order() => Assert.Equal(
        ["emergency", "alert", "critical", "error", "warning", "notice", "informational", "debug"],
        Enum.GetNames<LogSeverity>().Select(ConfigurationJson.WordOf));

    private static void Say(ILogger log, LogLevel level, string words, Exception? fault = null) => log.Log(level, default, words, fault, (text, _) => text);

    private string[] Logged(LogSeverity least, Action<ILogger> say)
    {
        using (var log = AgentLog.Create(new LogOptions { Level = least, Folder = _folder.Path }))
        {
            using var provider = new SerilogLoggerProvider(log);
            say(provider.CreateLogger("LaserWatch.Pipeline.WatchWorker"));
        }

        return [.. Directory.GetFiles(_folder.Path, "laserwatch-*.log").SelectMany(File.ReadAllLines)];
    }

    [GeneratedRegex(@"^\[20\d\d-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z\] warning: The broker a  b has gone \(Pipeline\.WatchWorker\)$")]
    private static partial Regex Line();
}
