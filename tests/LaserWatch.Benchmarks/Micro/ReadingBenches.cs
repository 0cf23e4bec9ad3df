using System.Text;
using BenchmarkDotNet.Attributes;
using LaserWatch.Payloads;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Micro;

/// <summary>From bytes to samples.</summary>
[BenchmarkCategory("reading")]
public class ReadingBenches
{
    private static readonly byte[] Line =
        "telemetry,machine=bay1 tube_current=17.95,power=66,lasing=1,air_pressure=209.4,coolant_in=20.0625,coolant_out=21.125,ambient_temperature=21.4,ambient_humidity=45.8 1772438400000000000"u8.ToArray();

    private static readonly byte[] Bare = "209.4"u8.ToArray();
    private static readonly byte[] Json = """{"value":209.4,"time":"2026-03-02T08:00:00.250Z"}"""u8.ToArray();

    private readonly TelemetryScanner _scanner = new();
    private readonly RecordingEvent _event = new();
    private readonly MessageDecoder _decoder = new(PayloadOptions.Default, [], [], new ChannelTable());
    private readonly DecodedMessage _decoded = new();
    private readonly Instant _arrival = Instant.FromUnixSeconds(1_772_438_400);

    [GlobalSetup]
    public void Learn()
    {
        _scanner.LearnSeries(Line.AsSpan(0, Line.AsSpan().IndexOf((byte)' ')), "bay1");
        foreach (var channel in Channel.Canonical)
            _scanner.LearnChannel(channel);
        if (!ScanLine())
            throw new InvalidOperationException($"Not scanned: {Encoding.UTF8.GetString(Line)}");
    }

    [Benchmark(Description = "scan a line of a recording, 8 samples")]
    public bool ScanLine()
    {
        _event.ForgetValues();
        return _scanner.TryScan(Line, _event);
    }

    [Benchmark(Description = "decode a message, a bare number")]
    public int DecodeBare() => _decoder.Decode("laserwatch/bay1/air_pressure", Bare, _arrival, _decoded);

    [Benchmark(Description = "decode a message, JSON with a time")]
    public int DecodeJson() => _decoder.Decode("laserwatch/bay1/air_pressure", Json, _arrival, _decoded);
}
