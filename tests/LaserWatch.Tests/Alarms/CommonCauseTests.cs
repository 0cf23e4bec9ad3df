using CsCheck;
using LaserWatch.Rules;

namespace LaserWatch.Alarms;

public class CommonCauseTests
{
    private static readonly FloodOptions Options = new();

    [Fact]
    public void Air_lost_at_half_of_the_machines_within_five_minutes_points_to_the_compressor()
    {
        var cause = Assert.Single(CommonCause.In(
            [
                FloodWatchTests.Raised("bay3", Conditions.AirPressureLost, 2), FloodWatchTests.Raised("bay1", Conditions.AirPressureLow, 0),
                FloodWatchTests.Raised("bay1", Conditions.AirPressureLost, 1), FloodWatchTests.Raised("bay2", Conditions.TubeLife, 1),
            ], 4, Options));

        Assert.Equal("air pressure lost or low on 2 of 4 machines (bay1, bay3) at about one time: look at the shared compressor or air supply first", cause.What);
        Assert.Equal(["bay1", "bay3"], cause.Machines);
        Assert.Equal(FloodWatchTests.At(0), cause.Since);
    }

    [Theory]
    [InlineData(5, 2.0)] // two of five are less than half
    [InlineData(4, 5.1)] // not within five minutes
    public void Too_few_machines_or_too_far_apart_point_to_nothing(int machines, double minutes) => Assert.Empty(CommonCause.In(
        [FloodWatchTests.Raised("bay1", Conditions.AirPressureLost, 0), FloodWatchTests.Raised("bay2", Conditions.AirPressureLost, minutes)], machines, Options));

    [Fact]
    public void One_machine_alone_has_nothing_in_common_with_others() =>
        Assert.Empty(CommonCause.In([FloodWatchTests.Raised("bay1", Conditions.AirPressureLost, 0)], 1, Options));

    [Theory]
    [InlineData(Conditions.CoolantHot, Conditions.CoolantTimeToLimit, 29, "chiller, or at the room's temperature")]
    [InlineData(Conditions.SensorSilent, Conditions.SensorSilent, 4, "network, the broker and the sensors' power")]
    [InlineData(Conditions.CondensationRisk, Conditions.CondensationRisk, 4, "room's humidity")]
    public void What_machines_share_is_named(string one, string other, double minutes, string look) => Assert.Contains(
        look,
        Assert.Single(CommonCause.In([FloodWatchTests.Raised("bay1", one, 0), FloodWatchTests.Raised("bay2", other, minutes)], 3, Options)).What,
        StringComparison.Ordinal);

    [Fact]
    public void Of_any_alarms_as_many_machines_are_found_as_by_looking_from_each_alarm_on()
    {
        var alarm = Gen.Select(Gen.Int[0, 5], Gen.Int[0, 30]).Select((machine, minutes) => FloodWatchTests.Raised($"bay{machine}", Conditions.SensorSilent, minutes));
        alarm.Array[0, 20].Sample(alarms =>
        {
            var most = alarms.Select(first => alarms.Where(a => a.Time >= first.Time && a.Time <= first.Time + TimeSpan.FromMinutes(5)).DistinctBy(a => a.Machine).Count())
                .DefaultIfEmpty().Max();

            var found = CommonCause.In(alarms, 6, Options);

            Assert.Equal(most >= 3 ? most : 0, found.Count == 0 ? 0 : found[0].Machines.Distinct().Count());
        });
    }

    [Fact]
    public void Alarms_that_are_not_raised_point_to_nothing() => Assert.Empty(CommonCause.In(
        [
            FloodWatchTests.Raised("bay1", Conditions.AirPressureLost, 0) with { State = AlarmState.Shelved },
            FloodWatchTests.Raised("bay2", Conditions.AirPressureLost, 0) with { State = AlarmState.Normal },
        ], 2, Options));
}
