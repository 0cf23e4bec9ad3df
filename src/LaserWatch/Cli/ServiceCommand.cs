using System.CommandLine;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch service</c>: the log of what was done to a machine.</summary>
public static class ServiceCommand
{
    public static Command Create()
    {
        var command = new Command("service", "The service log of a machine: lists it, and adds to it.");
        command.Subcommands.Add(List());
        command.Subcommands.Add(Add());
        return command;
    }

    private static Command List()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine, as in its topics." };
        var from = SharedOptions.From();
        var to = SharedOptions.To();
        var format = new Option<string>("--format") { Description = "table or json (one object a line).", DefaultValueFactory = _ => "table" };
        format.AcceptOnlyFromAmong("table", "json");
        var config = SharedOptions.Config();
        var command = new Command("list", "Lists what was done.") { machine, from, to, format, config };
        command.SetAction(async (parsed, stop) =>
        {
            var options = AgentConfiguration.Read(parsed.GetValue(config));
            await using var store = StoreAccess.ForReading(options.Store);
            var events = await store.ReadServiceEventsAsync(
                parsed.GetRequiredValue(machine), parsed.GetValue(from) ?? Instant.MinValue, parsed.GetValue(to) ?? Instant.MaxValue, stop);
            Print(events, parsed.GetValue(format) == "json", parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error);
            return (int)ExitCode.Done;
        });
        return command;
    }

    private static Command Add()
    {
        var machine = new Argument<string>("MACHINE") { Description = "The machine, as in its topics." };
        var part = new Option<string>("--part") { Description = "What was served: tube, lens, mirror, water-trap …", HelpName = "NAME", Required = true };
        var action = new Option<string>("--action") { Description = "What was done: replaced, cleaned, drained …", HelpName = "NAME", Required = true };
        var serial = new Option<string?>("--serial") { Description = "Serial number of the new part.", HelpName = "TEXT" };
        var note = new Option<string?>("--note") { Description = "Anything worth knowing later.", HelpName = "TEXT" };
        var field = new Option<string[]>("--field") { Description = "A further field, such as power=60; may be given several times.", HelpName = "NAME=VALUE" };
        var config = SharedOptions.Config();
        var command = new Command("add", "Adds to the log; a replaced tube starts a new baseline.") { machine, part, action, serial, note, field, config };
        command.SetAction((parsed, stop) => AddAsync(
            new ServiceEvent(
                parsed.GetRequiredValue(machine), Instant.From(TimeProvider.System.GetUtcNow()), parsed.GetRequiredValue(part),
                parsed.GetRequiredValue(action), parsed.GetValue(serial), parsed.GetValue(note), Fields(parsed.GetValue(field) ?? [])),
            parsed.GetValue(config), parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private static Dictionary<string, string> Fields(string[] pairs)
    {
        var fields = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var pair in pairs)
        {
            var sign = pair.IndexOf('=', StringComparison.Ordinal);
            if (sign <= 0 || pair[..sign] is "part" or "action" or "serial" or "note" or "time")
                throw new CommandException(ExitCode.BadUsage, $"--field {pair}: write NAME=VALUE, with a name that has no option of its own.");
            fields[pair[..sign]] = pair[(sign + 1)..];
        }

        return fields;
    }

    private static async Task<int> AddAsync(ServiceEvent done, string? config, TextWriter error, CancellationToken stop)
    {
        if (!MachineName.IsValid(done.Machine))
            throw new CommandException(ExitCode.BadUsage, $"'{done.Machine}' is not a machine's name: {MachineName.Rule}.");
        var options = AgentConfiguration.ReadAsPerson(config);
        await ServiceEntry.EnterAsync(options, done, error, stop);
        return (int)ExitCode.Done;
    }

    private static void Print(IReadOnlyList<ServiceEvent> events, bool json, TextWriter output, TextWriter error)
    {
        if (json)
        {
            foreach (var done in events)
                output.WriteLine(System.Text.Encoding.UTF8.GetString(ServiceEntry.Json(done)));
            return;
        }

        var listing = new Listing("time", "part", "action", "serial", "note", "further");
        foreach (var e in events)
        {
            listing.Row(
                e.At.ToString(), e.Part, e.Action, e.Serial ?? "", e.Note ?? "",
                string.Join(' ', e.Details.OrderBy(d => d.Key, StringComparer.Ordinal).Select(d => $"{d.Key}={d.Value}")));
        }

        if (listing.IsEmpty)
            error.WriteLine("Nothing is in the service log.");
        else
            listing.Print(output, output == Console.Out && !Console.IsOutputRedirected);
    }
}
