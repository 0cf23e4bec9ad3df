using LaserWatch.Alarms;
using LaserWatch.Rules;
using LaserWatch.Storage;
using LaserWatch.Telemetry;

namespace LaserWatch.StoreWriter;

/// <summary>Batches that can be told whole from broken: batch <c>n</c> holds ten samples of each machine, a delivery and, every fifth time, an alarm.</summary>
/// <remarks>Twenty minutes lie between two, so that hours to pack come fast; of every seventh one sample is two hours late.</remarks>
public static class NumberedBatch
{
    public const string Machine = "bay1";
    public const int Samples = 10;

    private static readonly TimeSpan Beside = TimeSpan.FromMilliseconds(50);

    /// <summary>The name of a machine: 0 is <see cref="Machine"/>.</summary>
    public static string NameOf(int machine) => $"bay{machine + 1}";

    public static void Fill(StoreBatch batch, long number, int machines = 1)
    {
        batch.Clear();
        for (var machine = 0; machine < machines; machine++)
        {
            var name = NameOf(machine);
            for (var i = 0; i < Samples; i++)
                batch.Samples.Add((name, new Sample(i % 2 == 0 ? Channel.TubeCurrent : Channel.AirPressure, IsLate(number, i) ? At(number - 6, i) + Beside : At(number, i), number)));
        }

        batch.Deliveries.Add(DeliveryOf(number));
        if (number % 5 == 0)
        {
            batch.AlarmChanges.Add(new AlarmChange(
                At(number, 0), Machine, Conditions.AirPressureLow, AlarmState.Unacknowledged, AlarmPriority.High, number, null, "kPa", null, "low", [], []));
        }
    }

    public static Instant At(long number, int place) => new(1773041400000000000 + (number * 1_200_000_000_000) + (place * 100_000_000L));

    public static PacketDelivery DeliveryOf(long number) => new("agent-1", (ushort)((number % 65_535) + 1), (ulong)number);

    private static bool IsLate(long number, int place) => place == 3 && number > 6 && number % 7 == 0;
}
