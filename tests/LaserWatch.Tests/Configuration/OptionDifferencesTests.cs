using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Quantities;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

public class OptionDifferencesTests
{
    private static readonly LaserWatchOptions Default = LaserWatchOptions.Default;
    private static readonly MonitorOptions Narrow = MonitorOptions.Default with { AirPressure = new AirPressureOptions { Tolerance = 0.05 } };

    private static JobRecord Record(double kilopascals) =>
        new("birch-6-cut", default(Instant), "birch plywood 6 mm", new PowerPercent(66), 11, new Kilopascals(kilopascals), null);

    [Fact]
    public void Equal_configurations_differ_in_nothing() => Assert.Empty(OptionDifferences.Of(Default, new LaserWatchOptions()));

    [Fact]
    public void A_setting_is_told_by_its_path_in_the_file() => Assert.Equal(
        [new OptionDifference("rules.airPressure.tolerance", "0.1", "0.05", true)], OptionDifferences.Of(Default, Default with { Rules = Narrow }));

    [Fact]
    public void What_a_machine_has_from_the_shop_is_told_once()
    {
        var (a, b) = (With(MonitorOptions.Default), With(Narrow));

        Assert.Equal(["rules.airPressure.tolerance"], OptionDifferences.Of(a, b).Select(d => d.Path));
        Assert.Equal(["machines.bay1.rules.airPressure.tolerance"], OptionDifferences.Of(a, b with { Rules = a.Rules }).Select(d => d.Path));

        static LaserWatchOptions With(MonitorOptions rules) =>
            Default with { Rules = rules, Machines = new Dictionary<string, MachineOptions> { ["bay1"] = new() { Rules = rules } } };
    }

    [Fact]
    public void Another_record_of_a_job_is_seen_by_the_rules()
    {
        var difference = Assert.Single(OptionDifferences.Of(Default with { JobRecords = [Record(210)] }, Default with { JobRecords = [Record(190)] }));

        Assert.StartsWith("jobs.birch-6-cut", difference.Path, StringComparison.Ordinal);
        Assert.True(difference.TouchesRules);
        Assert.Contains("190", difference.B!, StringComparison.Ordinal);
    }

    [Fact]
    public void Where_the_store_lies_no_rule_sees() => Assert.False(
        Assert.Single(OptionDifferences.Of(Default, Default with { Store = Default.Store with { Path = "elsewhere.db" } })).TouchesRules);
}
