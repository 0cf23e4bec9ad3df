using System.Threading.Channels;
using LaserWatch.Mqtt;

namespace LaserWatch.Fakes;

/// <summary>A broker that no sensor speaks to; keeps what is published.</summary>
public sealed class QuietLink : IBrokerLink
{
    private readonly List<(string Topic, string Payload, bool Retain)> _published = [];
    private readonly HashSet<string> _announced = [];

    public IReadOnlyList<(string Topic, string Payload, bool Retain)> Published
    {
        get
        {
            lock (_published)
                return [.. _published];
        }
    }

    public IReadOnlyCollection<string> Announced => _announced;

    public bool IsConnected { get; set; } = true;

    public long Connections => 1;

    public long Dropped => 0;

    public Task RunAsync(Channel<RawMessage> inbox, CancellationToken stop) =>
        Task.Delay(Timeout.Infinite, stop).ContinueWith(_ => { }, CancellationToken.None, TaskContinuationOptions.None, TaskScheduler.Default);

    public Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop)
    {
        lock (_published)
            _published.Add((topic, System.Text.Encoding.UTF8.GetString(payload.Span), retain));
        return Task.CompletedTask;
    }

    public void Announce(string machine) => _announced.Add(machine);

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;
}
