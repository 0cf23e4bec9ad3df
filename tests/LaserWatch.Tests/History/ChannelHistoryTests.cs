using CsCheck;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.History;

public class ChannelHistoryTests
{
    [Fact]
    public void A_day_is_the_median_of_its_minute_means_with_the_beam_on()
    {
        List<Sample> samples = [];
        // Three minutes of beam at 200, 210 and 260, then an hour without beam at 300.
        for (var minute = 0; minute < 63; minute++)
        {
            var at = TubeShop.Morning(0) + TimeSpan.FromMinutes(minute);
            samples.Add(new(Channel.Lasing, at, minute < 3 ? 1 : 0));
            samples.Add(new(Channel.AirPressure, at + TimeSpan.FromSeconds(1), (minute switch { 0 => 200, 1 => 210, 2 => 260, _ => 300 }) - 4));
            samples.Add(new(Channel.AirPressure, at + TimeSpan.FromSeconds(2), (minute switch { 0 => 200, 1 => 210, 2 => 260, _ => 300 }) + 4));
        }

        var day = Assert.Single(Walk(new ChannelHistory(Channel.AirPressure, Channel.Lasing, MonitorOptions.Default), samples).Days);

        Assert.Equal((new DateOnly(2026, 3, 9), 210.0, 3), (day.Day, day.Value, day.Count));
        Assert.Equal(TubeShop.Morning(0) + TimeSpan.FromMinutes(1.5), day.At);
    }

    [Fact]
    public void Room_channels_count_with_and_without_beam()
    {
        var samples = Enumerable.Range(0, 600).Select(minute => new Sample(Channel.AmbientHumidity, TubeShop.FirstDay + TimeSpan.FromMinutes(minute), minute < 300 ? 40 : 50));

        var day = Assert.Single(Walk(new ChannelHistory(Channel.AmbientHumidity, null, MonitorOptions.Default), [.. samples]).Days);

        Assert.Equal((45.0, 600), (day.Value, day.Count));
    }

    [Fact]
    public void Values_that_no_sound_sensor_says_are_left_out()
    {
        var samples = Enumerable.Range(0, 60).Select(minute => new Sample(Channel.CoolantOut, TubeShop.FirstDay + TimeSpan.FromMinutes(minute), minute % 2 == 0 ? -127 : 21));

        var day = Assert.Single(Walk(new ChannelHistory(Channel.CoolantOut, null, MonitorOptions.Default), [.. samples]).Days);

        Assert.Equal((21.0, 30), (day.Value, day.Count));
    }

    [Fact]
    public void An_error_takes_in_how_far_days_stray_from_their_neighbours()
    {
        var noise = new Random(5);
        List<Sample> samples = [];
        for (var day = 0; day < 40; day++)
        {
            var level = 20 + noise.NextDouble();
            for (var minute = 0; minute < 30; minute++)
                samples.Add(new(Channel.AmbientTemperature, TubeShop.Morning(day) + TimeSpan.FromMinutes(minute), level));
        }

        var days = Walk(new ChannelHistory(Channel.AmbientTemperature, null, MonitorOptions.Default), samples).Days;

        // Uniform over one kelvin has a deviation of 0.29 K; that of the median difference of neighbours is 0.29 · 1.4826 = 0.31 K, from 39 of them.
        Assert.All(days, day => Assert.InRange(day.Error, 0.15, 0.55));
    }

    [Fact]
    public void How_the_samples_are_cut_into_spans_means_nothing() =>
        Gen.Int[1, 500].Array[1, 20].Sample(
            cuts =>
            {
                var shop = new TubeShop { MinutesOfRun = 3 }.Work(0, 5, _ => 1);
                var whole = shop.Tell(new ChannelHistory(Channel.TubeCurrent, Channel.Lasing, MonitorOptions.Default)).Days;
                Assert.Equal(whole, shop.Tell(new ChannelHistory(Channel.TubeCurrent, Channel.Lasing, MonitorOptions.Default), cut: at => cuts[at % cuts.Length]).Days);
            },
            iter: 20);

    private static ChannelHistory Walk(ChannelHistory history, List<Sample> samples)
    {
        history.Begin(new HistorySpan(TubeShop.Machine, samples[0].At, Instant.MaxValue, true));
        history.Take(samples.ToArray());
        history.End();
        return history;
    }
}
