using System.Text;
using System.Threading.Channels;
using LaserWatch.Mqtt;

namespace LaserWatch.Fakes;

/// <summary>Keeps what is published; the test says whether it is connected.</summary>
public sealed class RememberingBrokerLink : IBrokerLink
{
    private readonly List<(string Topic, string Payload, bool Retain)> _published = [];
    private readonly List<string> _announced = [];

    public bool IsConnected { get; set; } = true;

    public long Connections { get; set; } = 1;

    public long Dropped { get; set; }

    public IReadOnlyList<(string Topic, string Payload, bool Retain)> Published
    {
        get
        {
            lock (_published)
                return [.. _published];
        }
    }

    public IReadOnlyList<string> Announced => _announced;

    public void Announce(string machine) => _announced.Add(machine);

    public Task RunAsync(Channel<RawMessage> inbox, CancellationToken stop) => Task.Delay(Timeout.Infinite, stop);

    public Task PublishAsync(string topic, ReadOnlyMemory<byte> payload, bool retain, CancellationToken stop)
    {
        if (!IsConnected)
            return Task.FromException(new IOException("not connected"));
        lock (_published)
            _published.Add((topic, Encoding.UTF8.GetString(payload.Span), retain));
        return Task.CompletedTask;
    }

    public ValueTask DisposeAsync() => ValueTask.CompletedTask;
}
