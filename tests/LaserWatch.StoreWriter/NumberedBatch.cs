using LaserWatch.Alarms;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.StoreWriter;

/// <summary>Batches that can be told whole from broken: batch <c>n</c> holds ten samples, a delivery and, every fifth time, an alarm.</summary>
public static class NumberedBatch
{
    public const string Machine = "bay1";
    public const int Samples = 10;

    public static void Fill(StoreBatch batch, long number)
    {
        batch.Clear();
        for (var i = 0; i < Samples; i++)
            batch.Samples.Add((Machine, new Sample(i % 2 == 0 ? Channel.TubeCurrent : Channel.AirPressure, At(number, i), number)));
        batch.Deliveries.Add(DeliveryOf(number));
        if (number % 5 == 0)
        {
            batch.AlarmChanges.Add(new AlarmChange(
                At(number, 0), Machine, Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, number, null, "kPa", null, "low", [], []));
        }
    }

    public static Instant At(long number, int place) => new(1773041400000000000 + (number * 1_000_000_000) + (place * 100_000_000L));

    public static Delivery DeliveryOf(long number) => new("agent-1", (ushort)((number % 65_535) + 1), (ulong)number);
}
