using LaserWatch.Alarms;
using LaserWatch.Evaluation.Simulation;
using LaserWatch.Rules;

namespace LaserWatch.Evaluation.Scoring;

/// <summary>Knows the true state of the machine, and so which alarms are physically so, fault or no fault.</summary>
internal sealed class Witness(Machine machine)
{
    private const double HotCelsius = 30;
    private const double ColdCelsius = 5;
    private const double MarginKelvins = 2;

    /// <summary>A sensor may be off by so much, K.</summary>
    private const double SensorKelvins = 0.8;

    /// <summary>A course that reaches its limit within three times the look-ahead was one.</summary>
    private const double CourseSeconds = 1800;

    private const double LowAirMemorySeconds = 30;

    private readonly List<RaisedAlarm> _courses = [];
    private double _lowAir;
    private double _lowAirAt = double.NegativeInfinity;

    public void Judge(RaisedAlarm alarm)
    {
        alarm.IsSo = alarm.Condition switch
        {
            Conditions.CoolantHot => machine.CoolantInCelsius > HotCelsius - SensorKelvins,
            Conditions.CoolantCold => machine.CoolantInCelsius < ColdCelsius + SensorKelvins,
            Conditions.CondensationRisk => machine.CoolantInCelsius < machine.DewPointCelsius + MarginKelvins + SensorKelvins,
            Conditions.AirPressureLow or Conditions.AirPressureLost => alarm.Time - _lowAirAt < LowAirMemorySeconds,
            // Work that comes round by the calendar or the hour meter is no fault, and is told to a healthy machine too.
            Conditions.ServiceDue or Conditions.WaterTrapDue or Conditions.TubeLife => true,
            _ => false,
        };
        if (alarm.Condition != Conditions.CoolantTimeToLimit)
            return;
        // So by the loop's own law at the load of the last minutes, whether or not people then stop; or because it comes to be so.
        alarm.IsSo = machine.CoolantSecondsTo(HotCelsius - SensorKelvins) < CourseSeconds / 2;
        if (!alarm.IsSo)
            _courses.Add(alarm);
    }

    public void StepDone(double time)
    {
        if (machine.LowAirSeconds != _lowAir)
            (_lowAir, _lowAirAt) = (machine.LowAirSeconds, time);
        if (_courses.Count == 0)
            return;
        if (machine.CoolantInCelsius > HotCelsius - SensorKelvins)
        {
            foreach (var course in _courses)
                course.IsSo = true;
            _courses.Clear();
        }

        _courses.RemoveAll(course => time - course.Time > CourseSeconds);
    }
}
