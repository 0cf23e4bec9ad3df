using System.CommandLine;
using System.Globalization;
using System.Threading.Channels;
using LaserWatch.Configuration;
using LaserWatch.Delivery;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Pipeline;
using LaserWatch.Storage;
using LaserWatch.Storage.Influx;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging.Abstractions;

namespace LaserWatch.Cli;

/// <summary><c>laserwatch check</c>: is everything there that the agent needs, and what does each rule lack.</summary>
/// <remarks>
/// Listens beside a running agent without disturbing it: under a name of its own, and without acknowledging anything for it. Found
/// wanting (1) is a configuration that the agent could run with, but where nothing was heard, or messages could not be read.
/// </remarks>
public static class CheckCommand
{
    public static Command Create()
    {
        var config = SharedOptions.Config();
        var listen = new Option<double>("--listen") { Description = "Seconds to listen for sensors.", HelpName = "SECONDS", DefaultValueFactory = _ => 5 };
        listen.Validators.Add(result =>
        {
            if (!(result.GetValueOrDefault<double>() is >= 0.5 and <= 3600))
                result.AddError("--listen must be 0.5 to 3600 seconds.");
        });
        var offline = new Option<bool>("--offline") { Description = "Checks configuration and store only, not the broker." };
        var sendTest = new Option<string[]>("--send-test")
        {
            Description = "Sends a message marked as a test through the webhooks, mailboxes and hooks named (all where none is), and says of each whether it was taken. Nothing else is checked but the configuration.",
            HelpName = "NAME",
            Arity = ArgumentArity.ZeroOrMore,
            AllowMultipleArgumentsPerToken = true,
        };
        var command = new Command("check", "Checks configuration, broker and store, lists the channels heard, and says what each rule lacks.")
        {
            config, listen, offline, sendTest,
        };
        command.SetAction((parsed, stop) => parsed.GetResult(sendTest) is { Implicit: false } ? SendTestAsync(
            parsed.GetValue(config), parsed.GetValue(sendTest) ?? [], parsed.InvocationConfiguration.Output, stop) : RunAsync(
            parsed.GetValue(config), parsed.GetValue(offline) ? null : TimeSpan.FromSeconds(parsed.GetValue(listen)),
            parsed.InvocationConfiguration.Output, parsed.InvocationConfiguration.Error, stop));
        return command;
    }

    private static async Task<int> SendTestAsync(string? config, string[] names, TextWriter output, CancellationToken stop)
    {
        var options = AgentConfiguration.Read(config, out var told);
        var known = options.Delivery.Outlets().Select(o => o.Key).ToList();
        if (names.FirstOrDefault(n => !known.Contains(n)) is { } unknown)
            throw new CommandException(ExitCode.BadUsage, $"there is no outlet '{unknown}' under delivery in the {told}; {(known.Count == 0 ? "none is configured" : $"there are {string.Join(", ", known)}")}.");
        if (known.Count == 0)
            throw new CommandException(ExitCode.BadUsage, $"no webhook, mailbox or hook is configured under delivery in the {told}; nothing can be tried.");

        var results = await DeliveryTest.RunAsync(options, names, TimeProvider.System, stop);
        foreach (var (outlet, answer) in results)
            output.WriteLine($"{outlet}: {(answer.Outcome == OutletOutcome.Delivered ? answer.Why.Length == 0 ? "taken" : $"taken, but {answer.Why}" : $"NOT taken: {answer.Why}")}");
        return (int)(results.All(r => r.Answer is { Outcome: OutletOutcome.Delivered, Why: "" }) ? ExitCode.Done : ExitCode.FoundWanting);
    }

    private static async Task<int> RunAsync(string? config, TimeSpan? listen, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var options = AgentConfiguration.Read(config, out var told);
        output.WriteLine($"{told}: good; {options.Machines.Count} machines described, {options.JobRecords.Count} job records");
        foreach (var open in SecretFiles.Warnings(options))
            output.WriteLine(open);
        CheckCertificate(options, output);
        if (options.Delivery.Outlets().Select(o => o.Key).ToList() is { Count: > 0 } outlets)
            output.WriteLine($"delivery: {string.Join(", ", outlets)}; 'check --send-test' tries them");
        var stored = await CheckStoreAsync(options.Store, output, stop);
        if (listen is null)
        {
            output.WriteLine("broker: not asked");
            return (int)ExitCode.Done;
        }

        var ear = new Ear(options, stored);
        await HearAsync(options, ear, listen.Value, output, error, stop);
        return (int)Report(ear, listen.Value, output);
    }

    /// <summary>A running agent may still have the files from before: those that the next start will read are looked at here.</summary>
    private static void CheckCertificate(LaserWatchOptions options, TextWriter output)
    {
        if (options.Broker.Host is not null || options.EmbeddedBroker.Tls is not { } tls)
            return;
        try
        {
            var last = ServerCertificate.LastDayOf(tls, TimeProvider.System);
            output.WriteLine($"certificate {tls.CertificateFile}: good, until {last}");
        }
        catch (TlsFileException fault)
        {
            throw new CommandException(ExitCode.Unreachable, $"{fault.Message}.");
        }
    }

    /// <summary>The job records in the store, which rules need beside those of the file.</summary>
    private static async Task<IReadOnlyList<JobRecord>> CheckStoreAsync(StoreOptions options, TextWriter output, CancellationToken stop)
    {
        var name = options.Influx is null ? "store" : "spool";
        if (options.Influx is { } influx)
        {
            await InfluxTelemetryStore.CheckServerAsync(influx, stop);
            output.WriteLine($"InfluxDB {influx.Url}, bucket {influx.Bucket}: good; may be read and written");
        }

        if (!File.Exists(options.Path))
        {
            output.WriteLine($"{name} {options.Path}: not there yet; {Probe(options.Path)}");
            return [];
        }

        await using var store = StoreAccess.ForReading(options);
        var machines = await store.ReadMachinesAsync(stop);
        var samples = 0L;
        foreach (var machine in machines)
            samples += (await store.ReadExtentAsync(machine, stop))?.Count ?? 0;
        var waiting = store is InfluxTelemetryStore spooling ? spooling.ReadWaiting() : default;
        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{name} {options.Path}: good; {samples} samples of {machines.Count} machines{(waiting.Lines > 0 ? $"; {waiting.Lines} lines wait for InfluxDB" : "")}"));
        if (waiting.Refused > 0)
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{name} {options.Path}: {waiting.Refused} lines that InfluxDB refused are set aside; the agent's log says why, and its next start tries them again"));
        return await store.ReadJobRecordsAsync(stop);
    }

    /// <summary>Whether the agent could make the store: tried with a file of another name, which is taken away again.</summary>
    private static string Probe(string path)
    {
        var folder = Path.GetDirectoryName(Path.GetFullPath(path))!;
        var nearest = folder;
        while (!Directory.Exists(nearest))
            nearest = Path.GetDirectoryName(nearest) ?? throw new CommandException(ExitCode.Unreachable, $"the store's folder {folder} cannot be made.");
        var probe = Path.Combine(nearest, $".laserwatch-probe-{Guid.NewGuid():N}");
        try
        {
            using (File.Create(probe, 1, FileOptions.DeleteOnClose))
            {
            }

            return "the agent makes it at its first start";
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.Unreachable, $"the store {path} cannot be made: {e.Message.TrimEnd('.')}; give this user the right to write there, or another store.path.");
        }
    }

    private static async Task HearAsync(
        LaserWatchOptions options, Ear ear, TimeSpan listen, TextWriter output, TextWriter error, CancellationToken stop)
    {
        var broker = options.Broker.Host is null && options.EmbeddedBroker.Port == 0 ? null : BrokerOf.Clients(options);
        try
        {
            if (broker is not null)
            {
                await using var call = await AgentCall.OpenAsync(broker, options.Subscriptions(), stop);
                output.WriteLine($"broker {broker.Host}:{broker.Port}: good");
                await error.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"laserwatch: listening for {listen.TotalSeconds:0.#} s"));
                await ListenAsync(call.Heard, ear, listen, stop);
                return;
            }
        }
        catch (IOException fault) when (options.Broker.Host is null && AgentCall.NobodyListens(fault))
        {
            // No agent runs that would be the broker. Then this check can be, for so long.
        }
        catch (IOException fault)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }

        await BeTheBrokerAsync(options, ear, listen, output, error, stop);
    }

    private static async Task ListenAsync(ChannelReader<(string Topic, byte[] Payload)> heard, Ear ear, TimeSpan listen, CancellationToken stop)
    {
        using var end = CancellationTokenSource.CreateLinkedTokenSource(stop);
        end.CancelAfter(listen);
        try
        {
            await foreach (var (topic, payload) in heard.ReadAllAsync(end.Token))
                ear.Take(topic, payload);
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
        }
    }

    private static async Task BeTheBrokerAsync(
        LaserWatchOptions options, Ear ear, TimeSpan listen, TextWriter output, TextWriter error, CancellationToken stop)
    {
        await using var link = new EmbeddedBrokerLink(
            options.EmbeddedBroker, options.Broker.TopicRoot, retainedFile: null, TimeProvider.System, NullLogger<EmbeddedBrokerLink>.Instance,
            options.TopicRules(), options.Input.MaxPayloadBytes);
        var inbox = System.Threading.Channels.Channel.CreateUnbounded<RawMessage>();
        using var end = CancellationTokenSource.CreateLinkedTokenSource(stop);
        var running = link.RunAsync(inbox, end.Token);
        try
        {
            while (!link.IsConnected && !running.IsCompleted)
                await Task.Delay(TimeSpan.FromMilliseconds(20), stop);
            if (running.IsFaulted)
                await running;
            output.WriteLine($"embedded broker {options.EmbeddedBroker.Address}:{link.Port}: good; no agent runs, so this check listens there");
            await error.WriteLineAsync(string.Create(CultureInfo.InvariantCulture, $"laserwatch: listening for {listen.TotalSeconds:0.#} s"));
            end.CancelAfter(listen);
            await foreach (var message in inbox.Reader.ReadAllAsync(end.Token))
            {
                // Not acknowledged: nothing is stored here, so a sensor that can shall send it again to the agent.
                ear.Take(message.Topic, message.Payload.Span);
            }
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
        }
        catch (Exception fault) when (fault is IOException or SecretMissingException)
        {
            throw new CommandException(ExitCode.Unreachable, fault.Message);
        }
        finally
        {
            await end.CancelAsync();
            await running.ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private static ExitCode Report(Ear ear, TimeSpan listened, TextWriter output)
    {
        var terminal = output == Console.Out && !Console.IsOutputRedirected;
        if (ear.Channels.Count == 0)
        {
            output.WriteLine("channels: none heard; do the sensors publish to this broker, and on the topics that the configuration names?");
        }
        else
        {
            output.WriteLine();
            var channels = new Listing("machine", "channel", "samples/s", "last value", "unit");
            foreach (var ((machine, channel), (count, last)) in ear.Channels.OrderBy(c => c.Key.Machine, StringComparer.Ordinal).ThenBy(c => c.Key.Channel.Index))
            {
                channels.Row(
                    machine, channel.Name, (count / listened.TotalSeconds).ToString("0.##", CultureInfo.InvariantCulture),
                    last.ToString("0.###", CultureInfo.InvariantCulture), channel.Unit);
            }

            channels.Print(output, terminal);
            output.WriteLine();
            var rules = new Listing("machine", "rule", "sees", "lacks");
            foreach (var watch in ear.Shop.Machines.OrderBy(m => m.Machine, StringComparer.Ordinal))
            {
                foreach (var rule in watch.Status.Rules)
                    rules.Row(watch.Machine, rule.Rule, string.Join(", ", rule.Sees), rule.Lacks.Count == 0 ? "nothing" : string.Join("; ", rule.Lacks));
            }

            rules.Print(output, terminal);
        }

        if (ear.Rejected.Count > 0)
        {
            output.WriteLine();
            var rejected = new Listing("not taken", "topic", "times", "for example");
            foreach (var ((reason, topic), (count, detail)) in ear.Rejected.OrderByDescending(r => r.Value.Count))
                rejected.Row(RejectionLedger.NameOf(reason), topic, count.ToString(CultureInfo.InvariantCulture), detail ?? "");
            rejected.Print(output, terminal);
        }

        var silent = ear.Described.Where(machine => ear.Channels.Keys.All(c => c.Machine != machine)).ToList();
        if (silent.Count > 0)
            output.WriteLine($"described but not heard: {string.Join(", ", silent)}");
        return ear.Channels.Count == 0 || ear.Rejected.Count > 0 || silent.Count > 0 ? ExitCode.FoundWanting : ExitCode.Done;
    }

    /// <summary>Takes messages as the agent would, and keeps count.</summary>
    private sealed class Ear
    {
        private const int MostKinds = 100;

        private readonly MessageDecoder _decoder;
        private readonly DecodedMessage _decoded = new();
        private readonly ArrivalClock _clock = new(TimeProvider.System);

        public Ear(LaserWatchOptions options, IReadOnlyList<JobRecord> stored)
        {
            var channels = new ChannelTable();
            foreach (var (channel, unit) in options.DeclaredUnits())
                channels.Declare(channel, unit);
            _decoder = new MessageDecoder(options.Input, options.TopicRules(), [.. options.Machines.Keys], channels);
            var jobs = new JobBook();
            foreach (var record in stored.Concat(options.JobRecords))
                jobs.Add(record);
            Shop = new Shop(options.RulesOf, jobs);
            Described = [.. options.Machines.Keys];
        }

        public Shop Shop { get; }

        public IReadOnlyList<string> Described { get; }

        public Dictionary<(string Machine, Telemetry.Channel Channel), (long Count, double Last)> Channels { get; } = [];

        public Dictionary<(Rejection Reason, string Topic), (long Count, string? Detail)> Rejected { get; } = [];

        public void Take(string topic, ReadOnlySpan<byte> payload)
        {
            var arrival = _clock.Next();
            var parts = 1;
            for (var part = 0; part < parts; part++)
            {
                parts = _decoder.Decode(topic, payload, arrival, _decoded, part);
                TakePart(topic);
            }
        }

        private void TakePart(string topic)
        {
            var kind = (_decoded.Rejection, topic);
            if (_decoded.Rejection != Rejection.None && (Rejected.Count < MostKinds || Rejected.ContainsKey(kind)))
                Rejected[kind] = (Rejected.GetValueOrDefault(kind).Count + 1, _decoded.RejectionDetail);
            if (_decoded.Machine is not { } machine || Shop.Find(machine) is not { } watch)
                return;
            foreach (var sample in _decoded.Samples)
            {
                watch.Observe(sample.At, [new ChannelValue(sample.Channel, sample.Value)]);
                Channels[(machine, sample.Channel)] = (Channels.GetValueOrDefault((machine, sample.Channel)).Count + 1, sample.Value);
            }

            if (_decoded.Job is not null)
                watch.Observe(_decoded.Job);
        }
    }
}
