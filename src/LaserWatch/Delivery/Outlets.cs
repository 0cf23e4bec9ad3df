namespace LaserWatch.Delivery;

/// <summary>Makes the outlets that the configuration names.</summary>
internal static class Outlets
{
    /// <param name="topicRoot">Where commands are published, for the text that says how to acknowledge.</param>
    public static IReadOnlyList<IOutlet> Make(DeliveryOptions options, string topicRoot, TimeProvider time)
    {
        var text = new MessageText(new LocalClock(options.TimeZone), topicRoot);
        return
        [
            .. options.Webhooks.Select(o => new WebhookOutlet(o.Key, o.Value, time)),
            .. options.Mail.Select(o => new MailOutlet(o.Key, o.Value, text, time)),
            .. options.Hooks.Select(o => new HookOutlet(o.Key, o.Value, time)),
        ];
    }
}
