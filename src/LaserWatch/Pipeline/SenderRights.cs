using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

/// <summary>Holds what a message says to the rights of who sent it, and says who that was.</summary>
internal sealed class SenderRights(CommandsOptions commands)
{
    private readonly HashSet<string> _by = new(commands.By, StringComparer.Ordinal);

    /// <summary>Takes out what the sender may not say; returns what to count for it, null where nothing was taken out.</summary>
    /// <param name="sender">Null where the broker does not tell.</param>
    public string? Apply(DecodedMessage message, ClientRights? sender)
    {
        var refused = sender?.Name is null || message.Machine is null ? null : TakeOut(message, sender, message.Machine);
        if (message.Command is not { } command)
            return refused;
        var who = sender?.Name ?? command.By;
        if (_by.Count > 0 && !_by.Contains(who))
        {
            message.Command = null;
            return $"{PayloadText.Quote(who)} is not among commands.by";
        }

        // Who logged in did it, whatever the message claims; the claim is kept beside it.
        if (sender?.Name is { } known && known != command.By)
            message.Command = command with { By = $"{known} (claims: {command.By})" };
        return refused;
    }

    /// <summary>A SenML pack on an allowed topic may name any channel.</summary>
    private static string? TakeOut(DecodedMessage message, ClientRights sender, string machine)
    {
        if (message.FailedSensor is { } failed && !sender.MayFeed(machine, failed.Name))
            message.FailedSensor = null;
        var refused = false;
        for (var i = message.Samples.Count - 1; i >= 0; i--)
        {
            if (sender.MayFeed(machine, message.Samples[i].Channel.Name))
                continue;
            message.Samples.RemoveAt(i);
            refused = true;
        }

        return refused ? $"{sender.Name} may not publish every channel in it" : null;
    }
}
