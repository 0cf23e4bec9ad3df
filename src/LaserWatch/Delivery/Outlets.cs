namespace LaserWatch.Delivery;

/// <summary>Makes the outlets that the configuration names.</summary>
internal static class Outlets
{
    public static IReadOnlyList<IOutlet> Make(DeliveryOptions options, TimeProvider time) =>
    [
        .. options.Webhooks.Select(o => new WebhookOutlet(o.Key, o.Value, time)),
    ];
}
