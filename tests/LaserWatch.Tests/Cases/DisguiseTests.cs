using LaserWatch.Alarms;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

public class DisguiseTests
{
    private readonly Disguise _disguise = new();

    [Fact]
    public void One_person_is_one_operator_throughout()
    {
        Assert.Equal(
            ["operator 1", "operator 2", "operator 1", "operator 2"],
            ((string[])["Ana", "Jo", " ana ", "JO"]).Select(by => _disguise.Of(Acknowledged(by)).By));
    }

    [Fact]
    public void What_a_person_wrote_to_a_change_goes_and_what_the_rule_said_stays()
    {
        Assert.Equal("", _disguise.Of(Acknowledged("ana")).Message);
        Assert.Equal("shelved by ana", _disguise.Of(Acknowledged(null)).Message);
    }

    [Fact]
    public void Of_a_service_entry_part_action_and_figures_stay()
    {
        var service = new ServiceEvent("bay1", default, "test-cut", "made", "T-000001", "ask Ana", new Dictionary<string, string>
        {
            ["power"] = "66", ["outcome"] = "through", ["by"] = "ana", ["remark"] = "Ana thinks so",
        });

        var left = _disguise.Of(service);

        Assert.Equal(("test-cut", "made", null, null), (left.Part, left.Action, left.Serial, left.Note));
        Assert.Equal(
            [("by", "operator 1"), ("outcome", "through"), ("power", "66")],
            left.Details.Select(detail => (detail.Key, detail.Value)).OrderBy(detail => detail.Key, StringComparer.Ordinal));
    }

    private static AlarmChange Acknowledged(string? by) => new(
        default, "bay1", Conditions.AirPressureLow, AlarmState.Shelved, AlarmPriority.High, null, null, "kPa", null, "shelved by ana", [], [], by);
}
