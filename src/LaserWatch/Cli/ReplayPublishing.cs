using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>What <c>laserwatch replay --to</c> was asked for.</summary>
internal sealed record ReplayPublishing(
    string Recording, TrainingAddress To, string? Config, double? Speed, Retiming Retiming, bool Control, bool OntoLiveTopics, bool AlthoughLive)
{
    private TimeProvider Time { get; } = TimeProvider.System;

    /// <exception cref="CommandException">It cannot be published, or broke off.</exception>
    public async Task<int> RunAsync(TextWriter output, TextWriter error, CancellationToken stop)
    {
        var options = SharedOptions.ReadAsPerson(Config);
        var broker = BrokerFor(options);
        var root = To.TopicRoot(OntoLiveTopics, options.Broker.TopicRoot);
        var fromStandardInput = Recording == "-";
        if (fromStandardInput && Control)
            throw new CommandException(ExitCode.BadUsage, "--control reads standard input, and so does the recording -: write the recording to a file.");
        if (fromStandardInput && Speed != 1 && Retiming == Retiming.Now)
        {
            throw new CommandException(
                ExitCode.BadUsage,
                "a recording from standard input has no end that is known, so no times that end now: add --speed 1 or --retime original, or write it to a file.");
        }

        using var first = ReplayCommand.Open(Recording, new ChannelTable());
        var timeline = fromStandardInput ? null : RecordingTimeline.Of(first, stop);
        if (OntoLiveTopics)
            await RefuseLiveAsync(broker, root, error, stop).ConfigureAwait(false);
        await WarnOfDisbeliefAsync(timeline, error).ConfigureAwait(false);
        AgentCall line;
        try
        {
            line = await AgentCall.OpenAsync(broker, [], stop).ConfigureAwait(false);
        }
        catch (IOException e)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
        }

        await using (line.ConfigureAwait(false))
        {
            var publisher = new RecordingPublisher(line, root);
            return await PlayAsync(first, timeline, publisher, $"to {To.Host}:{To.Port} below {root}", output, error, stop).ConfigureAwait(false);
        }
    }

    private async Task<int> PlayAsync(
        RecordingReader first, RecordingTimeline? timeline, RecordingPublisher publisher, string where, TextWriter output, TextWriter error, CancellationToken stop)
    {
        // The one from standard input is told by its first event where it begins.
        var clock = new PlayClock(timeline?.First, timeline?.Length ?? TimeSpan.Zero, Speed ?? double.PositiveInfinity, Retiming, Time);
        var onTerminal = error == Console.Error && !Console.IsErrorRedirected && !Console.IsInputRedirected && !Control;
        ReplayKeys? keys = null;
        using var player = new RecordingPlayer(timeline is null ? () => first : () => ReplayCommand.Open(Recording, new ChannelTable()), timeline, clock, publisher, Time)
        {
            Answer = words =>
            {
                if (keys is not null)
                    keys.Say(words);
                else if (Control)
                    error.WriteLine(words);
            },
            Progress = words => keys?.Show(words),
        };
        using var over = CancellationTokenSource.CreateLinkedTokenSource(stop);
        var listening = Task.CompletedTask;
        if (onTerminal)
        {
            keys = new ReplayKeys(error, player, Time);
            keys.Say(ReplayKeys.Legend);
            listening = Task.Run(() => keys.RunAsync(over.Token), CancellationToken.None);
        }
        else if (Control)
        {
            // Not waited for at the end: nothing ends a read of standard input.
            _ = Task.Run(() => ReadControlsAsync(player, over.Token), CancellationToken.None);
        }

        Exception? end = null;
        try
        {
            await player.RunAsync(over.Token).ConfigureAwait(false);
        }
        catch (Exception e) when (e is OperationCanceledException or IOException or InvalidDataException)
        {
            end = e;
        }

        await over.CancelAsync().ConfigureAwait(false);
        await listening.ConfigureAwait(false);
        keys?.Erase();
        await output.WriteLineAsync($"published {publisher.Published} message(s) {where}{(player.IsEnded ? $", ended at {clock.Place}" : "")}").ConfigureAwait(false);
        ReplayCommand.TellUnread(Recording, player.Counts, error);
        return end switch
        {
            null => (int)ExitCode.Done,
            OperationCanceledException => throw new CommandException(ExitCode.FoundWanting, $"stopped at {clock.Place} of {Recording}."),
            _ => throw new CommandException(ExitCode.Unreachable, $"{Recording} was published up to {clock.Place}: {end.Message} Mend that and play it again."),
        };
    }

    private static async Task ReadControlsAsync(RecordingPlayer player, CancellationToken over)
    {
        using var input = new StreamReader(Console.OpenStandardInput());
        while (!over.IsCancellationRequested && await input.ReadLineAsync(over).ConfigureAwait(false) is { } line)
        {
            if (ReplayControlText.Parse(line) is not { } control)
                continue;

            // A program that hands many in waits here until they are done.
            while (!player.Take(control) && !over.IsCancellationRequested)
                await Task.Delay(TimeSpan.FromMilliseconds(20), over).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private ConfiguredBroker BrokerFor(LaserWatchOptions options)
    {
        if (Config is null)
            options = options with { Broker = options.Broker with { Host = To.Host, Port = To.Port } };
        var broker = BrokerOf.Clients(options);
        if (!string.Equals(broker.Host, To.Host, StringComparison.OrdinalIgnoreCase) || broker.Port != To.Port)
        {
            throw new CommandException(
                ExitCode.BadUsage,
                $"--to names {To.Host}:{To.Port}, but {Config} describes the broker {broker.Host}:{broker.Port}: its user and password go nowhere else. Write the same in both, or leave --config out.");
        }

        if (To.Encrypted && !broker.Tls.Enabled)
            broker = broker with { Tls = broker.Tls with { Enabled = true } };
        return broker with { ClientId = "replay" };
    }

    private async Task RefuseLiveAsync(ConfiguredBroker broker, string root, TextWriter error, CancellationToken stop)
    {
        string? heard;
        try
        {
            await error.WriteLineAsync($"listening for {LiveTopics.Listening.TotalSeconds} s whether a live machine is on {root}").ConfigureAwait(false);
            heard = await LiveTopics.HeardAsync(broker, root, Time, stop).ConfigureAwait(false);
        }
        catch (IOException e)
        {
            throw new CommandException(ExitCode.Unreachable, e.Message);
        }

        if (heard is null)
            return;
        if (!AlthoughLive)
        {
            throw new CommandException(
                ExitCode.FoundWanting,
                $"nothing is published: at {To.Host}:{To.Port} {heard}, and a recording would be taken for what that machine does now. Leave --onto-live-topics out to publish below training/, or add --although-live.");
        }

        await error.WriteLineAsync($"laserwatch: {heard}, and the recording is published there all the same (--although-live)").ConfigureAwait(false);
    }

    /// <summary>An agent gives a message the time of its arrival where its own is too old to be believed.</summary>
    private async Task WarnOfDisbeliefAsync(RecordingTimeline? timeline, TextWriter error)
    {
        if (timeline?.First is not { } first)
            return;
        var oldest = Retiming == Retiming.Original
            ? Instant.From(Time.GetUtcNow()) - first
            : Speed is { } speed ? (timeline.Length - (timeline.Length / Math.Max(1, speed))) : timeline.Length;
        var limit = TimeSpan.FromSeconds(PayloadOptions.Default.PastLimitSeconds);
        if (oldest > limit)
        {
            await error.WriteLineAsync(
                $"laserwatch: the first messages are {Math.Ceiling(oldest.TotalDays)} days old; an agent believes times of up to {limit.TotalDays:0} days: " +
                "raise input.pastLimitSeconds of the agent that listens, or play at 1x with the times of now.").ConfigureAwait(false);
        }
    }
}
