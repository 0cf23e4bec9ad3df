using System.Buffers;
using System.CommandLine;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch alarms ack</c> and its kin: a command over MQTT, and the alarm's answer to it.</summary>
internal static class AlarmCommandVerbs
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(5);

    public static IEnumerable<Command> Create()
    {
        yield return Verb("ack", "Acknowledges an alarm: somebody knows, and sees to it.", AlarmCommandKind.Acknowledge);
        yield return Verb("reset", "Lets a latched alarm go whose condition is over; it must be acknowledged first.", AlarmCommandKind.Reset);
        yield return Verb("shelve", "Silences a condition for a time.", AlarmCommandKind.Shelve);
        yield return Verb("unshelve", "Ends a shelving before its time.", AlarmCommandKind.Unshelve);
        yield return Verb("out-of-service", "Switches a condition off, for as long as its sensor or machine is being worked on.", AlarmCommandKind.OutOfService);
        yield return Verb("in-service", "Switches it on again.", AlarmCommandKind.InService);
    }

    private static Command Verb(string name, string description, AlarmCommandKind kind)
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine, as in its topics." };
        var condition = new Argument<string>("CONDITION") { Description = "The condition, such as air-pressure-low." };
        var by = new Option<string?>("--by") { Description = "Who does it; by default the user at the broker, or of this machine.", HelpName = "NAME" };
        var config = SharedOptions.Config();
        var command = new Command(name, description) { machine, condition, by, config };
        var time = new Option<string>("--for") { Description = "How long: 30m, 8h, 2d or PT30M; at most 30 days.", HelpName = "TIME", Required = true };
        time.Validators.Add(result =>
        {
            if (result.Tokens.Count == 1 && !DurationText.TryParse(result.Tokens[0].Value, out _))
                result.AddError($"'{result.Tokens[0].Value}' is not a duration: write 30m, 8h, 2d or PT30M.");
        });
        var why = new Option<string?>("--why") { Description = "The reason, for those who read the log.", HelpName = "TEXT" };
        if (kind == AlarmCommandKind.Shelve)
        {
            command.Options.Add(time);
            why.Required = true;
        }

        if (kind is AlarmCommandKind.Shelve or AlarmCommandKind.OutOfService)
            command.Options.Add(why);

        command.SetAction((parsed, stop) =>
        {
            var order = new Order(parsed.GetRequiredValue(machine), parsed.GetRequiredValue(condition), kind, parsed.GetValue(by))
            {
                For = kind == AlarmCommandKind.Shelve && DurationText.TryParse(parsed.GetRequiredValue(time), out var duration) ? duration : null,
                Why = command.Options.Contains(why) ? parsed.GetValue(why) : null,
            };
            return GiveAsync(order, parsed.GetValue(config), parsed.InvocationConfiguration.Error, stop);
        });
        return command;
    }

    private sealed record Order(string Machine, string Condition, AlarmCommandKind Kind, string? By)
    {
        public TimeSpan? For { get; init; }

        public string? Why { get; init; }
    }

    private static async Task<int> GiveAsync(Order order, string? config, TextWriter error, CancellationToken stop)
    {
        if (!MachineName.IsValid(order.Machine))
            throw new CommandException(ExitCode.BadUsage, $"'{order.Machine}' is not a machine's name: {MachineName.Rule}.");
        var options = AgentConfiguration.ReadAsPerson(config);
        var topics = new Topics(options.Broker.TopicRoot);
        var what = $"{order.Condition} of {order.Machine}";
        var broker = BrokerOf.Clients(options);

        // A user that many share, or the agent's own, says nothing of who stands here.
        var isPerson = broker.User is not null && broker.User != options.Broker.User && broker.User != options.EmbeddedBroker.User;
        var by = order.By ?? (isPerson ? broker.User! : Environment.UserName);
        if (options.Commands.By.Count > 0 && !options.Commands.By.Contains(isPerson && options.Broker.Host is null ? broker.User! : by))
            throw new CommandException(ExitCode.BadUsage, $"'{by}' may not command alarms: commands.by names {string.Join(", ", options.Commands.By)}.");
        try
        {
            await using var call = await AgentCall.OpenAsync(broker, [topics.Alarm(order.Machine, order.Condition)], stop);
            await call.SayAsync($"{options.Broker.TopicRoot}/{order.Machine}/command", Message(order, by), stop);
            var state = await WaitAsync(call, order.Kind, stop);
            if (state is not null && IsMet(order.Kind, state.Value))
            {
                await error.WriteLineAsync($"{what} is {state.Value.Name()}.");
                return (int)ExitCode.Done;
            }

            throw new CommandException(ExitCode.FoundWanting, state is null
                ? $"nothing was heard of {what} within {Patience.TotalSeconds} s: either no such alarm was ever raised, or no agent listens; see 'laserwatch alarms {order.Machine}' and 'laserwatch check'."
                : $"{what} is {state.Value.Name()} and did not change within {Patience.TotalSeconds} s; {Hint(order.Kind)}.");
        }
        catch (IOException fault)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }
    }

    /// <summary>The newest state that was heard: at once when it is the one asked for, else when patience ends.</summary>
    private static async Task<AlarmState?> WaitAsync(AgentCall call, AlarmCommandKind kind, CancellationToken stop)
    {
        AlarmState? newest = null;
        using var patience = CancellationTokenSource.CreateLinkedTokenSource(stop);
        patience.CancelAfter(Patience);
        try
        {
            await foreach (var (_, payload) in call.Heard.ReadAllAsync(patience.Token))
            {
                if (!AlarmJson.TryRead(payload, out var change, out _))
                    continue;
                newest = change!.State;
                if (IsMet(kind, newest.Value))
                    break;
            }
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
        }

        return newest;
    }

    private static bool IsMet(AlarmCommandKind kind, AlarmState state) => kind switch
    {
        AlarmCommandKind.Acknowledge => state is AlarmState.Acknowledged or AlarmState.Normal,
        AlarmCommandKind.Reset => state == AlarmState.Normal,
        AlarmCommandKind.Shelve => state == AlarmState.Shelved,
        AlarmCommandKind.Unshelve => state != AlarmState.Shelved,
        AlarmCommandKind.OutOfService => state == AlarmState.OutOfService,
        _ => state != AlarmState.OutOfService,
    };

    private static string Hint(AlarmCommandKind kind) => kind switch
    {
        AlarmCommandKind.Acknowledge => "a shelved or out-of-service alarm is brought back before it is acknowledged; is the agent running?",
        AlarmCommandKind.Reset => "an alarm is reset once its condition is over and it is acknowledged; is the agent running?",
        _ => "is the agent running?",
    };

    private static byte[] Message(Order order, string by)
    {
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes))
        {
            json.WriteStartObject();
            json.WriteString("do", order.Kind switch
            {
                AlarmCommandKind.Acknowledge => "acknowledge",
                AlarmCommandKind.Reset => "reset",
                AlarmCommandKind.Shelve => "shelve",
                AlarmCommandKind.Unshelve => "unshelve",
                AlarmCommandKind.OutOfService => "out-of-service",
                _ => "in-service",
            });
            json.WriteString("condition", order.Condition);
            json.WriteString("by", by);
            if (order.For is { } time)
                json.WriteString("for", DurationText.ToIso(time));
            if (order.Why is not null)
                json.WriteString("why", order.Why);
            json.WriteEndObject();
        }

        return bytes.WrittenSpan.ToArray();
    }
}
