using System.Buffers;
using System.Text.Json;
using Microsoft.Extensions.Logging;
using MQTTnet;
using MQTTnet.Protocol;
using MQTTnet.Server;

namespace LaserWatch.Mqtt;

/// <summary>What the embedded broker keeps for those who subscribe later: in a file, over a restart; and of sensors, only so much.</summary>
/// <param name="file">Null: nowhere.</param>
internal sealed class RetainedMessages(string? file, Topics topics, EmbeddedDoor door, ILogger logger) : IDisposable
{
    /// <summary>Topics from outside, and the most of a payload; what is beyond goes to those who listen and is not kept.</summary>
    private const int Most = 2000;
    private const int MostBytes = 64 * 1024;

    private readonly SemaphoreSlim _saving = new(1);
    private readonly HashSet<string> _topics = new(StringComparer.Ordinal);
    private int _unsaved;
    private int _saveFails;

    public Task NoteChange()
    {
        Volatile.Write(ref _unsaved, 1);
        return Task.CompletedTask;
    }

    public async Task LoadAsync(LoadingRetainedMessagesEventArgs args)
    {
        if (file is null)
            return;
        try
        {
            args.LoadedRetainedMessages =
            [
                .. (await RetainedFile.LoadAsync(file, CancellationToken.None)).Select(m => new MqttApplicationMessage
                {
                    Topic = m.Topic,

                    // Whatever a status says, it was said by an agent that is gone.
                    Payload = new ReadOnlySequence<byte>(topics.IsStatus(m.Topic) ? ConnectOptions.Offline : m.Payload),
                    QualityOfServiceLevel = (MqttQualityOfServiceLevel)m.Qos,
                    Retain = true,
                }),
            ];
            lock (_topics)
                _topics.UnionWith(args.LoadedRetainedMessages.Select(m => m.Topic).Where(t => !topics.IsOurs(t)));
        }
        catch (Exception e) when (e is JsonException or IOException or UnauthorizedAccessException)
        {
            var aside = file + ".unreadable";
            if (e is JsonException)
                File.Move(file, aside, overwrite: true);
            logger.RetainedUnreadable(file, e.Message, e is JsonException ? aside : "it was");
        }
    }

    public async Task SaveAsync(MqttServer server, CancellationToken stop)
    {
        if (file is null || Volatile.Read(ref _unsaved) == 0)
            return;
        await _saving.WaitAsync(stop);
        try
        {
            // Somebody who waited for the same change may have saved it already.
            if (Interlocked.Exchange(ref _unsaved, 0) == 0)
                return;
            var messages = await server.GetRetainedMessagesAsync();
            await RetainedFile.SaveAsync(
                file, [.. messages.Select(m => new RetainedMessage(m.Topic, m.Payload.ToArray(), (int)m.QualityOfServiceLevel))], stop);
            Volatile.Write(ref _saveFails, 0);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            Volatile.Write(ref _unsaved, 1);
            if (Interlocked.Exchange(ref _saveFails, 1) == 0)
                logger.RetainedNotSaved(file, e.Message);
        }
        finally
        {
            _saving.Release();
        }
    }

    /// <summary>A sensor gone mad must not fill the memory, and the file, with what it wants kept.</summary>
    public bool MayRetain(MqttApplicationMessage message)
    {
        lock (_topics)
        {
            if (message.Payload.IsEmpty)
            {
                _topics.Remove(message.Topic);
                return true;
            }

            if (message.Payload.Length <= MostBytes && (_topics.Contains(message.Topic) || (_topics.Count < Most && _topics.Add(message.Topic))))
                return true;
        }

        if (door.SaidFirst("retained"))
            logger.RetainedFull(Most, MostBytes / 1024);
        return false;
    }

    public void Dispose() => _saving.Dispose();
}
