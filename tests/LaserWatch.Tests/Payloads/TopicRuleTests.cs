using LaserWatch.Calibration;

namespace LaserWatch.Payloads;

public class TopicRuleTests
{
    [Fact]
    public void A_rule_that_says_all_it_must_has_no_mistake()
    {
        Assert.Empty(new TopicRule { Topic = "laserwatch/bay1/coolant_in", Unit = "°F" }.Mistakes("laserwatch"));
        Assert.Empty(new TopicRule { Topic = "shop/air", Machine = "bay1", Channel = "air_pressure", Unit = "psi", ValuePointer = "/p" }.Mistakes("laserwatch"));
        Assert.Empty(new TopicRule { Topic = "zig/+/x/#", Machine = "bay1", Names = new Dictionary<string, string> { ["t"] = "coolant_in" } }.Mistakes("laserwatch"));
        Assert.Empty(new TopicRule { Topic = "a", Machine = "bay1", Channel = "pump", Unit = "rpm" }.Mistakes("laserwatch"));
        Assert.Empty(
            new TopicRule
            {
                Topic = "a", Machine = "bay1", Channel = "coolant_in", Calibration = [new DividerStep(), new NtcBetaStep()],
            }.Mistakes("laserwatch"));
    }

    [Fact]
    public void All_mistakes_are_named_at_once()
    {
        var rule = new TopicRule
        {
            Topic = "shop/#/air", Channel = "air pressure", ValuePointer = "p", TimePointer = "/t~", Unit = "psi",
            Calibration = [new NtcBetaStep { BetaKelvin = 1 }, new RtdStep()],
        };

        Assert.Equal(
            [
                "topic 'shop/#/air': '#' must be the last level",
                "topic 'shop/#/air' is not under laserwatch/, so it does not tell the machine: name it in machine",
                "channel 'air pressure' is not valid: use 1 to 64 of A-Z a-z 0-9 _ - .",
                "valuePointer: 'p' is no JSON Pointer: begin it with '/', such as '/p'",
                "timePointer: '/t~' is no JSON Pointer: write '~0' for '~' and '~1' for '/' (RFC 6901)",
                "calibration step 1: The field BetaKelvin must be between 500 and 10000.",
                "calibration step 2 takes Ohm, but step 1 gives °C: put a step between them that converts, or change their order",
                "unit is 'psi', but the last calibration step gives °C: leave unit out",
            ],
            rule.Mistakes("laserwatch"));
    }

    [Theory]
    [InlineData("coolant_in", "psi", "unit 'psi' is not known for coolant_in (°C): use one of °C, Cel, degC, C, celsius, K, °F, degF, F, fahrenheit")]
    [InlineData("pump", "Hz", "unit 'Hz' is not known for pump (rpm): use one of rpm")]
    public void A_unit_the_channel_cannot_take_is_a_mistake(string channel, string unit, string mistake)
    {
        var rule = new TopicRule { Topic = "a", Machine = "bay1", Channel = channel, Unit = unit };

        Assert.Equal([mistake], rule.Mistakes("laserwatch", new Dictionary<string, string> { ["pump"] = "rpm" }));
    }

    [Fact]
    public void A_value_that_nothing_gives_a_channel_is_a_mistake()
    {
        Assert.Equal(
            ["valuePointer '/p' gives one value, but nothing tells its channel: name it in channel"],
            new TopicRule { Topic = "a", Machine = "bay1", ValuePointer = "/p" }.Mistakes("laserwatch"));
        Assert.Equal(
            ["unit and calibration belong to one channel: name it in channel"],
            new TopicRule { Topic = "a", Machine = "bay1", Unit = "bar" }.Mistakes("laserwatch"));
        Assert.Equal(
            ["names are for SenML packs, valuePointer for other JSON: give one of the two"],
            new TopicRule { Topic = "a", Machine = "bay1", Channel = "x", ValuePointer = "/p", Names = new Dictionary<string, string> { ["t"] = "y" } }.Mistakes("laserwatch"));
        Assert.Equal(
            ["machine 'Bay 1' is not valid: use 1 to 32 of a-z, 0-9 and '-'", "names['t']: channel 'a b' is not valid: use 1 to 64 of A-Z a-z 0-9 _ - ."],
            new TopicRule { Topic = "a", Machine = "Bay 1", Names = new Dictionary<string, string> { ["t"] = "a b" } }.Mistakes("laserwatch"));
    }

    [Fact]
    public void Rules_that_can_never_be_heard_are_found()
    {
        Assert.Empty(TopicRule.Conflicts([
            new() { Topic = "a", Machine = "bay1", Channel = "coolant_in", ValuePointer = "/in" },
            new() { Topic = "a", Machine = "bay1", Channel = "coolant_out", ValuePointer = "/out" },
            new() { Topic = "b", Machine = "bay2", Channel = "coolant_in" },
        ]));
        Assert.Empty(TopicRule.Conflicts([
            new() { Topic = "room", Machine = "bay1", Channel = "ambient_humidity" }, new() { Topic = "room", Machine = "bay2", Channel = "ambient_humidity" },
        ]));
        Assert.Equal(
            ["topic 'a' has 2 rules for channel coolant_in of machine bay1: keep one"],
            TopicRule.Conflicts([
                new() { Topic = "a", Machine = "bay1", Channel = "coolant_in" }, new() { Topic = "a", Machine = "bay1", Channel = "coolant_in", Unit = "K" },
            ]));
    }
}
