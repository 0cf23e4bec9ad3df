using System.Threading.Channels;
using LaserWatch.Configuration;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Mqtt;

/// <summary>One light connection for each machine, so that the broker can say of each that it is offline.</summary>
/// <remarks>
/// An MQTT connection has one will, and each machine has a status topic of its own. These connections carry a will and a
/// keep-alive and nothing else. Beyond <see cref="Most"/> machines only the agent's own status topic tells of its death.
/// </remarks>
/// <param name="onMain">The machine whose will the main connection carries; null where none is.</param>
internal sealed class PresenceLinks(
    ConfiguredBroker options, Topics topics, string? onMain, TimeProvider time, Random jitter, ILogger logger)
{
    /// <summary>Enough for a shop, and no burden to a broker.</summary>
    public const int Most = 64;

    private static readonly TimeSpan GoodBye = TimeSpan.FromSeconds(1);

    private readonly Lock _lock = new();
    private readonly HashSet<string> _machines = new(StringComparer.Ordinal);
    private readonly Channel<string> _new = Channel.CreateUnbounded<string>();
    private readonly List<string> _beyond = [];
    private bool _refused;
    private long _connections;

    public long Connections => Volatile.Read(ref _connections);

    /// <summary>Machines without a connection of their own: of these the main connection says <c>offline</c> on a clean stop.</summary>
    public IReadOnlyList<string> Beyond
    {
        get
        {
            lock (_lock)
                return [.. _beyond];
        }
    }

    public void Add(string machine)
    {
        if (machine == onMain)
            return;
        lock (_lock)
        {
            if (!_machines.Add(machine))
                return;
            if (_machines.Count <= Most)
            {
                _new.Writer.TryWrite(machine);
                return;
            }

            if (_beyond.Count == 0)
                logger.PresenceFull(Most, machine, topics.AgentStatus);
            _beyond.Add(machine);
        }
    }

    public async Task RunAsync(CancellationToken stop)
    {
        var held = new List<Task>();
        try
        {
            await foreach (var machine in _new.Reader.ReadAllAsync(stop))
                held.Add(HoldAsync(machine, new ReconnectPolicy(new Random(jitter.Next())), stop));
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
        }

        await Task.WhenAll(held);
    }

    private async Task HoldAsync(string machine, ReconnectPolicy policy, CancellationToken stop)
    {
        var will = topics.Status(machine);
        var clientId = $"{options.ClientId}-{machine}";
        var protocol = new ProtocolChoice();
        var failures = 0;
        try
        {
            while (true)
            {
                await using var connection = new BrokerConnection(logger);
                try
                {
                    await connection.OpenAsync(ConnectOptions.Build(options, clientId, will, persistent: false, protocol.Five), stop);
                }
                catch (Exception e) when (!stop.IsCancellationRequested)
                {
                    // Quiet: the main connection has the same trouble and speaks of it.
                    logger.PresenceDown(machine, e.GetBaseException().Message);
                    if (e is BrokerRefusedException { WrongVersion: true })
                        protocol.Refused();
                    else if (ConnectFault.IsHangUp(e))
                        protocol.HungUp();
                    else if (e is BrokerRefusedException)
                        SayRefused(machine, e.Message);
                    await Task.Delay(policy.Wait(++failures), time, stop);
                    continue;
                }

                var since = time.GetTimestamp();
                Interlocked.Increment(ref _connections);
                try
                {
                    var why = await connection.Ended.WaitAsync(stop);
                    logger.PresenceDown(machine, why?.GetBaseException().Message ?? "closed");
                }
                catch (OperationCanceledException)
                {
                    await SayGoodByeAsync(connection, will);
                    return;
                }

                protocol.Ended();
                failures = ReconnectPolicy.AfterConnection(failures, time.GetElapsedTime(since));
                await Task.Delay(policy.Wait(failures), time, stop);
            }
        }
        catch (OperationCanceledException) when (stop.IsCancellationRequested)
        {
        }
    }

    private void SayRefused(string machine, string why)
    {
        lock (_lock)
        {
            if (_refused)
                return;
            _refused = true;
        }

        logger.PresenceRefused(machine, why, options.ClientId);
    }

    private async Task SayGoodByeAsync(BrokerConnection connection, string will)
    {
        using var patience = new CancellationTokenSource(GoodBye, time);
        try
        {
            await connection.PublishAsync(will, ConnectOptions.Offline, retain: true, patience.Token);
        }
        catch (Exception e) when (e is IOException or OperationCanceledException)
        {
            logger.GoodByeFailed(e.Message);
        }

        await connection.CloseAsync(patience.Token);
    }
}
