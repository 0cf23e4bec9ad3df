namespace LaserWatch.Delivery;

/// <summary>Makes the outlets that the configuration names.</summary>
internal static class Outlets
{
    public static IReadOnlyList<IOutlet> Make(DeliveryOptions options, TimeProvider time) =>
        [.. options.Outlets().Select(o => Make(o.Key, o.Value, time))];

    private static IOutlet Make(string name, OutletOptions options, TimeProvider time) => options switch
    {
        WebhookOptions webhook => new WebhookOutlet(name, webhook, time),
        _ => throw new InvalidOperationException($"there is no outlet for {options.GetType().Name}"),
    };
}
