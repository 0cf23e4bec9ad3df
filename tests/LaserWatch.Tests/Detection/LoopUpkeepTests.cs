using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

public class LoopUpkeepTests
{
    [Theory]
    [InlineData("radiator", "cleaned", true)]
    [InlineData("chiller", "set", true)]
    [InlineData("coolant", "refilled", true)]
    [InlineData("Coolant-Pump", "replaced", true)]
    [InlineData("chiller", "checked", false)]
    [InlineData("water-trap", "drained", false)]
    [InlineData("air-pump", "replaced", false)]
    [InlineData("exhaust-fan", "cleaned", false)]
    [InlineData("lens", "cleaned", false)]
    public void Work_on_the_loop_is_known_by_its_part_and_action(string part, string action, bool changes) => Assert.Equal(
        changes, LoopUpkeep.ChangesTheLoop(new ServiceEvent("bay1", Scene.Start, part, action, null, null, ServiceEvent.NoDetails)));
}
