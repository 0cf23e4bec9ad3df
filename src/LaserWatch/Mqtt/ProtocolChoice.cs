namespace LaserWatch.Mqtt;

/// <summary>Which MQTT to speak: version 5 first, 3.1.1 to a broker that will not have it.</summary>
/// <remarks>
/// A broker that refuses in words is believed. One that just hangs up may only be starting, so the versions take turns and
/// the next connection begins with 5 again: it has the receive maximum and the will delay.
/// </remarks>
public sealed class ProtocolChoice
{
    private bool _refused;

    /// <summary>True: speak version 5; false: 3.1.1.</summary>
    public bool Five { get; private set; } = true;

    /// <summary>The broker said that it does not know this version.</summary>
    public void Refused()
    {
        _refused = Five;
        Five = !Five;
    }

    /// <summary>The broker hung up instead of answering.</summary>
    public void HungUp()
    {
        if (!_refused)
            Five = !Five;
    }

    /// <summary>A connection came about, and has ended.</summary>
    public void Ended() => Five = !_refused;
}
