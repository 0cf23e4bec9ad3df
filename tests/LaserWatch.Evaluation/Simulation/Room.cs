namespace LaserWatch.Evaluation.Simulation;

/// <summary>A shop's room: season, day, weather and heating.</summary>
internal sealed record RoomPlan
{
    public double MeanCelsius { get; init; } = 21;

    /// <summary>Half the way from the coldest week to the warmest, K.</summary>
    public double SeasonKelvins { get; init; } = 3;

    /// <summary>Half the way from morning to afternoon, K.</summary>
    public double DayKelvins { get; init; } = 2;

    public double WeatherKelvins { get; init; } = 1.2;

    /// <summary>It is so much colder when the shop opens, and warms up within two hours, K.</summary>
    public double ColdMorningKelvins { get; init; }

    /// <summary>A door that stands open now and then in the cold season lets the room fall by so much, K.</summary>
    public double OpenDoorKelvins { get; init; }

    public double MeanDewPointCelsius { get; init; } = 8;

    public double SeasonDewPointKelvins { get; init; } = 5;
}

internal sealed class Room
{
    private readonly RoomPlan _plan;
    private readonly Noise _noise;
    private readonly Straying _weather;
    private readonly Straying _dew;
    private double _door;

    public Room(RoomPlan plan, Noise noise)
    {
        _plan = plan;
        _noise = noise;
        _weather = new Straying(plan.WeatherKelvins, 2 * 86_400, noise);
        _dew = new Straying(2, 86_400, noise);
        Celsius = plan.MeanCelsius;
        DewPointCelsius = plan.MeanDewPointCelsius;
    }

    public double Celsius { get; private set; }

    public double DewPointCelsius { get; private set; }

    /// <summary>%RH by the Magnus formula (WMO-No. 8, over water).</summary>
    public double RelativeHumidity => Math.Min(100 * Vapour(DewPointCelsius) / Vapour(Celsius), 100);

    /// <param name="dayOfYear">0 to 365, with its fraction.</param>
    /// <param name="hoursSinceOpening">Negative before the shop opens.</param>
    public void PassMinute(double seconds, double dayOfYear, double hoursSinceOpening, double extraKelvins, double extraDewPointKelvins)
    {
        var season = Math.Cos(2 * Math.PI * (dayOfYear - 205) / 365);
        var day = Math.Cos(2 * Math.PI * ((dayOfYear % 1) - 0.64));
        var morning = hoursSinceOpening < 0 ? 1 : Math.Exp(-hoursSinceOpening / 0.8);
        if (_noise.Chance(_plan.OpenDoorKelvins > 0 && season < 0 && hoursSinceOpening > 0 ? seconds / 7200 : 0))
            _door = _plan.OpenDoorKelvins * _noise.Between(0.4, 1);
        _door *= Math.Exp(-seconds / 1200);
        var goal = _plan.MeanCelsius + (_plan.SeasonKelvins * season) + (_plan.DayKelvins * day) + _weather.Step(seconds)
            - (_plan.ColdMorningKelvins * morning * (season < 0.3 ? 1 : 0.2)) - _door + extraKelvins;
        Celsius += (goal - Celsius) * (1 - Math.Exp(-seconds / 600));
        var dew = _plan.MeanDewPointCelsius + (_plan.SeasonDewPointKelvins * season) + _dew.Step(seconds) + extraDewPointKelvins;
        DewPointCelsius = Math.Min(dew, Celsius - 0.5);
    }

    private static double Vapour(double celsius) => Math.Exp(17.62 * celsius / (243.12 + celsius));
}
