using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Proof;
using LaserWatch.Telemetry;

namespace LaserWatch.Delivery;

/// <summary>Tries outlets with a message that says that it is a test, one attempt each, past outbox, filters and rest hours.</summary>
internal static class DeliveryTest
{
    /// <summary>The condition that a test bears; no rule has it.</summary>
    public const string Condition = "delivery-test";

    /// <summary>What came of it, in the order of the configuration; null where the name is no outlet's.</summary>
    public static async Task<IReadOnlyList<(string Outlet, OutletAnswer Answer)>> RunAsync(
        LaserWatchOptions options, IReadOnlyCollection<string> only, TimeProvider time, CancellationToken stop)
    {
        var message = Message(Instant.From(time.GetUtcNow()), options.Machines.Keys.FirstOrDefault() ?? "test");
        var outlets = Outlets.Make(options.Delivery, options.Broker.TopicRoot, time);
        try
        {
            var chosen = outlets.Where(o => only.Count == 0 || only.Contains(o.Name)).ToList();
            var answers = await Task.WhenAll(chosen.Select(o => o.SendAsync(message, stop)));
            return [.. chosen.Zip(answers, (outlet, answer) => (outlet.Name, answer))];
        }
        finally
        {
            foreach (var outlet in outlets.OfType<IDisposable>())
                outlet.Dispose();
        }
    }

    private static AlarmMessage Message(Instant now, string machine)
    {
        var change = new AlarmChange(
            now, machine, Condition, AlarmState.Unacknowledged, AlarmPriority.Low, null, null, "", null, "This is a test of the delivery; nothing is wrong.",
            [], []);
        var id = Digest.Of(Encoding.UTF8.GetBytes($"test/{change.Id()}")).ToString()[..32];
        return new(id, MessageCause.Test, [new(change, AlarmTransition.Raised, null, null, [])], now);
    }
}
