namespace LaserWatch.Evaluation.Scenarios;

/// <summary>Every scenario, and the quick choice of them.</summary>
internal static class Catalogue
{
    public static IReadOnlyList<Scenario> Full() =>
        [.. HealthyScenarios.Years(), .. HealthyScenarios.Stresses(), .. TubeFaults.All(), .. AirFaults.All(), .. CoolantFaults.All(), .. SensorFaults.All()];

    public static IReadOnlyList<Scenario> Quick() =>
        [.. HealthyScenarios.Weeks(), .. TubeFaults.All().Concat(AirFaults.All()).Concat(CoolantFaults.All()).Concat(SensorFaults.All()).Where(scenario => scenario.Quick)];
}
