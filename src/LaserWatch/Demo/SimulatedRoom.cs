using LaserWatch.Telemetry;

namespace LaserWatch.Demo;

/// <summary>The workshop's air: a heated room, with day, season and weather in it.</summary>
public sealed class SimulatedRoom(SeededNoise noise)
{
    private readonly Wander _weather = new(noise, TimeSpan.FromHours(30));
    private readonly Wander _door = new(noise, TimeSpan.FromMinutes(20));
    private readonly Wander _moisture = new(noise, TimeSpan.FromHours(20));

    /// <summary>°C.</summary>
    public double Temperature { get; private set; } = 21;

    /// <summary>%RH.</summary>
    public double Humidity { get; private set; } = 45;

    public void Step(Instant at, double seconds)
    {
        _weather.Step(seconds);
        _door.Step(seconds);
        _moisture.Step(seconds);
        var days = at.UnixNanoseconds / 86_400e9;
        // Warmest at the end of July, and at four in the afternoon.
        var season = Math.Cos(2 * Math.PI * ((days / 365.2425) - 0.57));
        var hour = Math.Cos(2 * Math.PI * (days - (16.0 / 24)));
        Temperature = 21.5 + (2.6 * season) + (1.4 * hour) + (0.9 * _weather.Value) + (0.25 * _door.Value);
        // Moist summers and dry heated winters; and the same moisture is a lower share of warmer air.
        Humidity = Math.Clamp(44 + (7 * season) - (3 * hour) + (4 * _moisture.Value) - (1.2 * _weather.Value), 22, 62);
    }
}
