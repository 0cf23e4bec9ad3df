using System.Diagnostics;
using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Mqtt;
using LaserWatch.Rules;
using LaserWatch.Storage.Sqlite;
using LaserWatch.Telemetry;
using Microsoft.Data.Sqlite;

namespace LaserWatch.EndToEnd;

/// <summary>What is delivered beyond MQTT when agent, receiver and network die at the worst moments.</summary>
/// <remarks>More seeds than one: LASERWATCH_EXACTLY_ONCE_SEEDS, a number; each takes about two minutes.</remarks>
public sealed class ExactlyOnceTests
{
    private const int Kills = 7;

    // After the last start a sensor has a minute before its silence counts.
    private static readonly TimeSpan Longest = TimeSpan.FromSeconds(120);
    private static readonly TimeSpan MostForAStop = TimeSpan.FromSeconds(5);

    /// <summary>Alarms that the streams below raise, and whether they end. The silences are found by ticks, not by samples.</summary>
    private static readonly (string Machine, string Condition, bool Ends)[] Expected =
    [
        ("bay1", Conditions.AirPressureLow, true), ("bay2", Conditions.CoolantHot, true), ("bay3", Conditions.SensorSilent, false),
        ("bay4", Conditions.AirPressureLow, true), ("bay1", Conditions.SensorSilent, false), ("bay4", Conditions.SensorSilent, false),
    ];

    public static TheoryData<int> Seeds
    {
        get
        {
            var count = int.TryParse(Environment.GetEnvironmentVariable("LASERWATCH_EXACTLY_ONCE_SEEDS"), NumberStyles.None, CultureInfo.InvariantCulture, out var asked) ? asked : 1;
            return [.. Enumerable.Range(1, Math.Clamp(count, 1, 1000))];
        }
    }

    [SkippableTheory]
    [MemberData(nameof(Seeds))]
    public async Task Killed_again_and_again_before_a_fickle_receiver_the_agent_delivers_every_alarm_once_by_id_and_in_order(int seed)
    {
        await using var broker = await RealBroker.StartAsync();
        var moods = new Random(seed);
        await using var receiver = new FickleReceiver(() => moods.Next(8) switch
        {
            0 or 1 => Mood.Refuses,
            2 => Mood.HangsUpBeforeTheBody,
            3 => Mood.HangsUpAfterTheBody,
            _ => Mood.Takes,
        });
        receiver.Start();
        using var folder = new AgentFolder(broker.Port);
        Configure(folder, broker.Port, receiver.Url);
        var clients = new MosquittoClients(broker.Port);
        var random = new Random(seed);
        var agent = folder.Run();
        try
        {
            await agent.SaysAsync("Connected to the broker");
            var publishing = PublishAllAsync(clients);
            for (var kill = 0; kill < Kills; kill++)
            {
                await MomentAsync(kill, random, receiver);
                agent.Kill();
                agent.Dispose();
                agent = folder.Run();
            }

            await publishing;
            await UntilAsync(() => Missing(receiver).Count == 0, () => $"these come: {string.Join(", ", Missing(receiver))}; came: {Told(receiver)}; the agent said:\n{agent.Output}");
            await UntilAsync(() => Waiting(folder) == 0, () => $"the outbox is empty; the agent said:\n{agent.Output}");
            await agent.TerminateAsync(TimeSpan.FromSeconds(20));

            foreach (var alarm in receiver.Kept.GroupBy(l => (l.Alarm.Machine, l.Alarm.Condition)))
            {
                var ends = Expected.Single(e => (e.Machine, e.Condition) == alarm.Key).Ends;
                Assert.Equal(
                    ends ? [AlarmState.Unacknowledged, AlarmState.ReturnedUnacknowledged] : [AlarmState.Unacknowledged],
                    alarm.Select(l => l.Alarm.State));
            }

            await using var store = SqliteTelemetryStore.OpenForReading(folder.StorePath);
            foreach (var alarm in (await store.ReadAlarmChangesAsync(null, Instant.MinValue, Instant.MaxValue, CancellationToken.None)).GroupBy(c => (c.Machine, c.Condition)))
            {
                var retained = await clients.RetainedAsync($"laserwatch/{alarm.Key.Machine}/alarm/{alarm.Key.Condition}");
                Assert.Contains($"\"state\":\"{alarm.Last().State.Name()}\"", retained, StringComparison.Ordinal);
            }
        }
        finally
        {
            agent.Dispose();
        }
    }

    [SkippableFact]
    public async Task What_was_raised_while_the_receiver_was_away_comes_once_when_it_is_back_marked_as_late_and_in_order()
    {
        await using var broker = await RealBroker.StartAsync();
        await using var receiver = new FickleReceiver(() => Mood.Takes);
        using var folder = new AgentFolder(broker.Port);
        Configure(folder, broker.Port, receiver.Url);
        var clients = new MosquittoClients(broker.Port);
        using var agent = folder.Run();
        await agent.SaysAsync("Connected to the broker");

        // In step with the clock, ten samples each 2.5 s: hot for 7.5 s, then not.
        var pause = TimeSpan.FromSeconds(2.5);
        await clients.PublishLinesAsync("laserwatch/bay2/coolant_in", AgentFolder.TimedValues(60, i => (i <= 30 ? 33 : 25) + (0.1 * (i % 2))), pause);
        await agent.SaysAsync("Alarms cannot be delivered to shop");
        await clients.RetainsAsync("laserwatch/bay2/alarm/coolant-hot", "\"state\":\"returned-unacknowledged\"");
        await Task.Delay(TimeSpan.FromSeconds(4)); // more than lateAfterSeconds, on the agent's own clock
        Assert.Empty(receiver.Letters);

        receiver.Start();
        await UntilAsync(() => receiver.Letters.Count >= 2, () => $"both come; the agent said:\n{agent.Output}");
        await clients.PublishLinesAsync("laserwatch/bay5/coolant_in", AgentFolder.TimedValues(30, i => 33 + (0.1 * (i % 2))), pause);
        await UntilAsync(() => receiver.Letters.Count >= 3 && Waiting(folder) == 0, () => $"the third comes; the agent said:\n{agent.Output}");
        await agent.TerminateAsync(TimeSpan.FromSeconds(20));

        Assert.Equal(
            [("bay2", AlarmState.Unacknowledged, true), ("bay2", AlarmState.ReturnedUnacknowledged, true), ("bay5", AlarmState.Unacknowledged, false)],
            receiver.Letters.Select(l => (l.Alarm.Machine, l.Alarm.State, l.IsLate)));
        Assert.Equal(3, receiver.Kept.Count);
    }

    [SkippableTheory]
    [InlineData(nameof(Mood.Refuses))]
    [InlineData(nameof(Mood.StaysSilent))]
    public async Task Told_to_stop_while_a_message_is_tried_the_agent_ends_within_five_seconds_and_sends_it_after_the_next_start(string mood)
    {
        await using var broker = await RealBroker.StartAsync();
        var now = Enum.Parse<Mood>(mood);
        await using var receiver = new FickleReceiver(() => now);
        receiver.Start();
        using var folder = new AgentFolder(broker.Port);
        Configure(folder, broker.Port, receiver.Url);
        var clients = new MosquittoClients(broker.Port);
        using (var agent = folder.Run())
        {
            await agent.SaysAsync("Connected to the broker");
            await clients.PublishLinesAsync("laserwatch/bay2/coolant_in", Coolant());
            await UntilAsync(() => receiver.Requests > 0, () => $"it is tried; the agent said:\n{agent.Output}");

            var (exitCode, took) = await agent.TerminateAsync(TimeSpan.FromSeconds(20));

            Assert.True(took < MostForAStop, $"It took {took.TotalSeconds:0.0} s:\n{agent.Output}");
            Assert.True(exitCode == 0, agent.Output);
            Assert.True(Waiting(folder) > 0);
        }

        now = Mood.Takes;
        using var again = folder.Run();
        await UntilAsync(() => receiver.Letters.Count >= 2, () => $"both come; the agent said:\n{again.Output}");
        Assert.Equal([AlarmState.Unacknowledged, AlarmState.ReturnedUnacknowledged], receiver.Kept.Select(l => l.Alarm.State));
    }

    /// <summary>Bay 3 falls silent first, so that its alarm comes about the first kill; the others go on through all of them.</summary>
    private static async Task PublishAllAsync(MosquittoClients clients)
    {
        foreach (var machine in new[] { "bay1", "bay3", "bay4" })
            await clients.PublishAsync($"laserwatch/{machine}/job", """{"event":"start","job":"birch-6-cut"}""");
        await clients.PublishLinesAsync("laserwatch/bay3/air_pressure", AgentFolder.TimedValues(60, i => 210 + (i % 2)));
        await Task.WhenAll(
            clients.PublishLinesAsync("laserwatch/bay1/air_pressure", Air(), TimeSpan.FromMilliseconds(300)),
            clients.PublishLinesAsync("laserwatch/bay2/coolant_in", Coolant(), TimeSpan.FromMilliseconds(400)),
            clients.PublishLinesAsync("laserwatch/bay4/air_pressure", Air(), TimeSpan.FromMilliseconds(700)));
    }

    private static IEnumerable<string> Air() => AgentFolder.TimedValues(220, i => (i < 120 ? 150 : 210) + (i % 2));

    private static IEnumerable<string> Coolant() => AgentFolder.TimedValues(230, i => (i is > 20 and < 130 ? 33 : 25) + (0.1 * (i % 2)));

    /// <summary>Waits for the moment of a kill: about the first silence, right behind something that was taken, or any.</summary>
    private static async Task MomentAsync(int kill, Random random, FickleReceiver receiver)
    {
        var clock = Stopwatch.StartNew();
        var taken = receiver.Letters.Count;
        if (kill == 0 && random.Next(2) == 0)
            await Task.Delay(random.Next(3000, 9000));
        else if (kill == 0 || random.Next(2) == 0)
            while (receiver.Letters.Count == taken && clock.ElapsedMilliseconds < (kill == 0 ? 15_000 : 4000))
                await Task.Delay(5);
        else
            await Task.Delay(random.Next(300, 4000));
        await Task.Delay(random.Next(0, 60));
    }

    private static List<string> Missing(FickleReceiver receiver)
    {
        var kept = receiver.Kept;
        return
        [
            .. Expected.Where(e => kept.Count(l => (l.Alarm.Machine, l.Alarm.Condition) == (e.Machine, e.Condition)) < (e.Ends ? 2 : 1))
                .Select(e => $"{e.Machine} {e.Condition}"),
        ];
    }

    private static string Told(FickleReceiver receiver) =>
        string.Join(", ", receiver.Letters.Select(l => $"{l.Alarm.Machine} {l.Alarm.Condition} {l.Alarm.State.Name()} {l.Alarm.Time} {l.Id[..6]}"));

    /// <summary>Messages and held changes that the outbox on the disk still has to send.</summary>
    private static long Waiting(AgentFolder folder)
    {
        using var connection = new SqliteConnection($"Data Source={Path.ChangeExtension(folder.StorePath, ".outbox.db")};Mode=ReadOnly;Pooling=False");
        connection.Open();
        using var command = connection.CreateCommand();
        command.CommandText = "SELECT (SELECT count(*) FROM message WHERE state = 0) + (SELECT count(*) FROM item WHERE message IS NULL)";
        return (long)command.ExecuteScalar()!;
    }

    private static async Task UntilAsync(Func<bool> holds, Func<string> what)
    {
        var clock = Stopwatch.StartNew();
        while (!holds())
        {
            Assert.True(clock.Elapsed < Longest, $"Waited {Longest.TotalSeconds} s in vain: {what()}");
            await Task.Delay(50);
        }
    }

    private static void Configure(AgentFolder folder, int broker, string url) => File.WriteAllText(folder.Config, $$"""
        {
          "broker": { "host": "127.0.0.1", "port": {{broker}} },
          "store": { "path": "laserwatch.db" },
          "evidence": { "enabled": false },
          "flood": { "startsAt": 1000 },
          "rules": { "sensors": { "silentAtLeastSeconds": 5 }, "coolant": { "onDelaySeconds": 5, "offDelaySeconds": 5 } },
          "delivery": {
            "lateAfterSeconds": 3, "longestRetrySeconds": 2,
            "webhooks": {
              "shop": { "url": "{{url}}", "timeoutSeconds": 5, "conditions": ["air-pressure-low", "coolant-hot", "sensor-silent"] }
            }
          }
        }
        """);
}
