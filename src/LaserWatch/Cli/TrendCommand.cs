using System.CommandLine;
using LaserWatch.Configuration;
using LaserWatch.History;
using LaserWatch.Plots;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch trend</c>: how a channel, or a tube's health, goes from day to day, and when it will reach its threshold.</summary>
/// <remarks>Exit status 1: the channel has no estimate in that time.</remarks>
public static class TrendCommand
{
    private const string All = "all";
    private const int PageWidth = 80;

    public static Command Create()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine, as in its topics." };
        var channel = new Argument<string>("CHANNEL") { Description = "Any stored channel; tube_current is told as the tube's health, its ratio to its baseline." };
        var power = new Option<double?>("--power") { Description = "tube_current at this power alone, %, with the current in mA; without it, all powers pooled.", HelpName = "PERCENT" };
        var tube = new Option<string?>("--tube") { Description = "tube_current: another tube than the one in now, by its number, or all.", HelpName = "N|all" };
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var format = new Option<string>("--format") { Description = "table, json (one object) or csv (a row a day).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json", "csv");
        var chart = new Option<bool>("--chart") { Description = "Draws the chart in letters also where the output is no terminal." };
        var plot = new Option<string?>("--plot") { Description = "Also draws a picture, .svg or .png.", HelpName = "FILE" };
        var size = new Option<string?>("--plot-size") { Description = $"Its width and height in pixels; without it {TrendPlot.DefaultWidth}x{TrendPlot.DefaultHeight}.", HelpName = "WxH" };
        var config = SharedOptions.Config();
        var store = SharedOptions.Store();
        var command = new Command("trend", "How a channel, or a tube's health, goes from day to day: the change a month with its interval, and when it reaches its threshold.")
        {
            machine, channel, power, tube, from, to, format, chart, plot, size, config, store,
        };
        SharedOptions.RefuseBoth(command, config, store);
        command.SetAction((parsed, stop) =>
        {
            var question = new TrendQuestion(
                parsed.GetRequiredValue(machine), parsed.GetRequiredValue(channel), parsed.GetValue(power), parsed.GetValue(from) ?? Instant.MinValue,
                parsed.GetValue(to) ?? Instant.MaxValue, Number(parsed.GetValue(tube)), parsed.GetValue(tube) == All);
            var options = parsed.GetValue(store) is { } file
                ? LaserWatchOptions.Default with { Store = new StoreOptions { Path = file } }
                : AgentConfiguration.Read(parsed.GetValue(config));
            return RunAsync(
                question, options, new Shown(parsed.GetValue(format)!, parsed.GetValue(chart), PictureFile.Of(parsed.GetValue(plot), parsed.GetValue(size))),
                parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop);
        });
        return command;
    }

    private sealed record Shown(string Format, bool Chart, PictureFile? Picture);

    private static int? Number(string? tube)
    {
        if (tube is null or All)
            return null;
        return int.TryParse(tube, out var number) && number > 0 ? number
            : throw new CommandException(ExitCode.BadUsage, $"--tube {tube}: write a number from 1, or all.");
    }

    private static async Task<int> RunAsync(TrendQuestion question, LaserWatchOptions options, Shown shown, TextWriter output, TextWriter error, CancellationToken stop)
    {
        Check(question);
        try
        {
            await using var store = StoreAccess.ForReading(options.Store);
            await StoreAccess.RequireMachineAsync(store, options.Store, question.Machine, stop);
            var answer = await new TrendSource(store, options).GatherAsync(question, stop);
            if (answer.Lack is { } lack)
                throw new CommandException(ExitCode.FoundWanting, lack);
            await StoreAccess.TellTrainingAsync(store, options.Store, error);

            // In the machine's name, since every format and picture tells that.
            IReadOnlyList<ChannelTrend> trends = !store.HoldsTraining ? answer.Trends : [.. answer.Trends.Select(trend => trend with { Machine = $"{trend.Machine} (training)" })];
            Print(trends, shown, output);
            if (shown.Picture is { } picture)
            {
                await picture.WriteAsync(trends, stop);
                await error.WriteLineAsync($"{picture.Path}: {picture.Width} by {picture.Height}");
            }

            return (int)ExitCode.Done;
        }
        catch (StoreException e)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
        }
    }

    private static void Check(TrendQuestion question)
    {
        if (question.From >= question.To)
            throw new CommandException(ExitCode.BadUsage, "--from must be before --to.");
        if (question.Power is not (null or (> 0 and <= 100)))
            throw new CommandException(ExitCode.BadUsage, "--power is a percentage, above 0 and up to 100.");
        if (question.Channel != Channel.TubeCurrent.Name && question.Power is not null)
            throw new CommandException(ExitCode.BadUsage, $"--power is for {Channel.TubeCurrent.Name} alone; leave it out for {question.Channel}.");
        if (question.Channel != Channel.TubeCurrent.Name && (question.Tube is not null || question.AllTubes))
            throw new CommandException(ExitCode.BadUsage, $"--tube is for {Channel.TubeCurrent.Name} alone; leave it out for {question.Channel}.");
    }

    private static void Print(IReadOnlyList<ChannelTrend> trends, Shown shown, TextWriter output)
    {
        if (shown.Format == "json")
        {
            TrendJson.Print(trends, output);
            return;
        }

        if (shown.Format == "csv")
        {
            TrendCsv.Print(trends, output);
            return;
        }

        var terminal = output == Console.Out && !Console.IsOutputRedirected;
        var width = terminal && Console.WindowWidth > 40 ? Console.WindowWidth : PageWidth;
        for (var i = 0; i < trends.Count; i++)
        {
            if (i > 0)
                output.WriteLine();
            TrendText.Print(trends[i], output, width, terminal, terminal || shown.Chart);
        }
    }
}
