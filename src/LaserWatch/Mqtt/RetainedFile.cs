using System.Text.Json;
using System.Text.Json.Serialization;
using LaserWatch.Payloads;

namespace LaserWatch.Mqtt;

/// <summary>A message that a broker keeps for those who subscribe later.</summary>
internal sealed record RetainedMessage(string Topic, byte[] Payload, int Qos);

/// <summary>The embedded broker's retained messages on disk. Replaced as a whole, so that a crash leaves the old or the new.</summary>
internal static class RetainedFile
{
    public static async Task SaveAsync(string file, IReadOnlyList<RetainedMessage> messages, CancellationToken stop)
    {
        var fresh = file + ".new";
        await using (var stream = OwnFiles.Create(fresh))
        {
            await JsonSerializer.SerializeAsync(stream, messages, RetainedJson.Default.IReadOnlyListRetainedMessage, stop);
            stream.Flush(flushToDisk: true);
        }

        File.Move(fresh, file, overwrite: true);
    }

    /// <summary>Nothing where there is no file.</summary>
    /// <exception cref="JsonException">The file is damaged.</exception>
    public static async Task<IReadOnlyList<RetainedMessage>> LoadAsync(string file, CancellationToken stop)
    {
        if (!File.Exists(file))
            return [];
        await using var stream = File.OpenRead(file);
        IReadOnlyList<RetainedMessage> messages;
        try
        {
            messages = await JsonSerializer.DeserializeAsync(stream, RetainedJson.Default.IReadOnlyListRetainedMessage, stop) ?? [];
        }
        catch (JsonException damaged)
        {
            throw new JsonException(PayloadText.Clean(damaged.Message, 300), damaged); // it quotes what it cannot read
        }

        if (messages.Any(m => m is null || string.IsNullOrEmpty(m.Topic) || m.Payload is null || m.Qos is < 0 or > 2))
            throw new JsonException("a message lacks its topic, payload or QoS");
        return messages;
    }
}

[JsonSourceGenerationOptions(PropertyNamingPolicy = JsonKnownNamingPolicy.SnakeCaseLower)]
[JsonSerializable(typeof(IReadOnlyList<RetainedMessage>))]
internal sealed partial class RetainedJson : JsonSerializerContext;
