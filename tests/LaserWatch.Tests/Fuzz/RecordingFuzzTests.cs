using System.IO.Compression;
using System.Text;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>Recordings from anywhere.</summary>
public class RecordingFuzzTests(ITestOutputHelper output)
{
    private static readonly byte[][] Seeds =
    [
        """
        # laserwatch proof 1
        telemetry,machine=bay1 tube_current=18.2,power=66,lasing=1,air_pressure=209.4 1773041400000000000
        job_record,job=birch-6-cut material="birch \"plywood\" 6 mm",power=66,speed=11,air_pressure=210,tube_current=18.2,mode="vector" 1773014400000000000
        job_run,machine=bay1 event="start",job="birch-6-cut" 1773041390000000000
        telemetry,machine=bay1 tube_current=18.1,power=66,air_pressure=151 1773041400250000000
        service,machine=bay1 part="tube",action="replaced",serial="T-000001",power=80i 1773014400000000000
        alarm,machine=bay1,condition=air-pressure-low state="unacknowledged",priority="high",value=151.0,limit=189.0 1773041460000000000
        telemetry,machine=bay\ 1 coolant_in=2.15e1,my_own=3i 1773041400500000000
        job_run,machine=bay1 event="end" 1773041490000000000
        """u8.ToArray(),
        "telemetry,machine=bay1 tube_current=18.2 1773041400000000000\r\n# no more\r\ntelemetry,machine=bay2 power=66 1773041399000000000"u8.ToArray(),
    ];

    private static readonly string[] Words =
        ["telemetry,", "job_run,", "service,", "alarm,", "job_record,", "machine=", " ", "=", "\\,", "\\ ", "i ", "t", "event=\"start\"", "\"\\\"", " 9223372036854775807\n", " -9223372036854775808\n", " 1\n"];

    [Fact]
    public void Lines_of_any_bytes_give_events_or_are_counted_with_a_reason() =>
        new Fuzzing(output, Seeds, Words, ReadAll).Run(cases: 20_000);

    [Fact]
    public void Damaged_compression_is_said_to_be()
    {
        byte[][] packed = [.. Seeds.Select(Gzip)];
        new Fuzzing(output, packed, [], ReadAll).Run(cases: 8_000);
    }

    [Fact]
    public void What_can_be_read_can_be_judged() =>
        new Fuzzing(output, Seeds, Words, bytes =>
        {
            using var reader = new RecordingReader(new MemoryStream(bytes), new ChannelTable());
            var shop = new Shop(_ => MonitorOptions.Default, new JobBook());
            try
            {
                new Replay(reader, shop, change => Fuzzing.AssertSayable(change.Message)).RunAsync(null, null, CancellationToken.None).GetAwaiter().GetResult();
            }
            catch (InvalidDataException damaged)
            {
                Fuzzing.AssertSayable(damaged.Message);
            }
        })
        { MostMemory = 512L << 20 }.Run(cases: 700);

    private static void ReadAll(byte[] bytes)
    {
        using var reader = new RecordingReader(new MemoryStream(bytes), new ChannelTable());
        try
        {
            while (reader.Read() is { } e)
            {
                Assert.DoesNotContain(e.Machine, char.IsControl);
                foreach (var value in e.Values)
                    Assert.True(double.IsFinite(value.Value));
            }
        }
        catch (Exception damaged) when (damaged is IOException or InvalidDataException)
        {
            Fuzzing.AssertSayable(damaged.Message);
        }

        Assert.All(reader.Counts.FirstUnread, unread => Fuzzing.AssertSayable(unread.ToString()));
    }

    private static byte[] Gzip(byte[] text)
    {
        using var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Optimal, leaveOpen: true))
            gzip.Write(text);
        return packed.ToArray();
    }
}
