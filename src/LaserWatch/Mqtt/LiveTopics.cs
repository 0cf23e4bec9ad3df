using System.Text.Json;
using LaserWatch.Configuration;

namespace LaserWatch.Mqtt;

/// <summary>Whether a real machine or an agent is at work on topics that somebody wants to publish on.</summary>
public static class LiveTopics
{
    /// <summary>Long enough for sensors that speak every few seconds; an agent's status is retained and comes at once.</summary>
    public static readonly TimeSpan Listening = TimeSpan.FromSeconds(5);

    /// <summary>Listens for a while; returns what was heard of a live machine or agent, in words, or null.</summary>
    /// <exception cref="IOException">The broker cannot be reached, or does not let us listen.</exception>
    public static async Task<string?> HeardAsync(ConfiguredBroker broker, string root, TimeProvider time, CancellationToken stop)
    {
        var topics = new Topics(root);
        var call = await AgentCall.OpenAsync(broker, [$"{root}/+/+"], stop);
        await using (call.ConfigureAwait(false))
        {
            using var enough = new CancellationTokenSource(Listening, time);
            using var either = CancellationTokenSource.CreateLinkedTokenSource(enough.Token, stop);
            try
            {
                while (true)
                {
                    var (topic, payload) = await call.Heard.ReadAsync(either.Token);
                    if (topic == topics.AgentStatus && IsOnline(payload))
                        return $"an agent is online ({topic})";

                    // The status of a machine stays behind when its agent dies; that of the agent tells.
                    if (!topics.IsOurs(topic))
                        return $"{topic} is in use";
                }
            }
            catch (OperationCanceledException) when (!stop.IsCancellationRequested)
            {
                return null;
            }
        }
    }

    private static bool IsOnline(byte[] payload)
    {
        try
        {
            using var json = JsonDocument.Parse(payload);
            return json.RootElement.ValueKind == JsonValueKind.Object
                && json.RootElement.TryGetProperty("state", out var state) && state.ValueEquals("online"u8);
        }
        catch (JsonException)
        {
            // Not what an agent says of itself.
            return false;
        }
    }
}
