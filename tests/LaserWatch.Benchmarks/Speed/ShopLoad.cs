using System.Diagnostics;
using System.Globalization;
using System.Text;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Benchmarks.Speed;

/// <summary>How a sensor writes a value.</summary>
public enum PayloadForm
{
    Bare,
    Json,
}

/// <summary>A shop at work: machines that cut, eight channels each, one message a sample, over a few connections.</summary>
/// <remarks>
/// Every packet is written beforehand and sent again and again. The last of each stretch, on each connection, is a mark of a machine of
/// its own: when the marks have come, all that was sent before them has.
/// </remarks>
internal sealed class ShopLoad : IDisposable
{
    public const string MarkMachine = "mark";

    public const int Connections = 4;

    /// <summary>Of each machine.</summary>
    public static int Channels => Cutting.Length;

    private const int BlockPackets = 100;
    private const int Window = 4 * BlockPackets;
    private const int Variants = 4;

    // What a healthy machine says while it cuts; the sensors' small noise is in the last digit.
    private static readonly (string Channel, double Value, double Step)[] Cutting =
    [
        ("lasing", 1, 0), ("power", 60, 0), ("tube_current", 18.1, 0.02), ("air_pressure", 210, 0.4), ("coolant_in", 20.3, 0.01),
        ("coolant_out", 22.4, 0.01), ("coolant_flow", 9.8, 0.02), ("ambient_temperature", 21.5, 0.01),
    ];

    private readonly int _qos;
    private readonly List<Lane> _lanes = [];
    private int _turn;

    public ShopLoad(int port, int qos, int machines, PayloadForm form)
    {
        _qos = qos;
        for (var i = 0; i < Connections; i++)
            _lanes.Add(new Lane(port, i, qos, [.. Enumerable.Range(0, machines).Where(m => m % Connections == i).Select(MachineName)], form));
    }

    public static string MachineName(int number) => string.Create(CultureInfo.InvariantCulture, $"bay{number:000}");

    /// <summary>What a healthy machine says in one second of the four that differ.</summary>
    public static IEnumerable<(string Channel, double Value)> Said(int variant) => Cutting.Select(said => (said.Channel, said.Value + (variant * said.Step)));

    /// <summary>What a machine of the load has said each second for a while, up to a time.</summary>
    public static void Teach(MachineWatch watch, TimeSpan time, Instant until)
    {
        var values = new ChannelValue[Cutting.Length];
        var seconds = (int)time.TotalSeconds;
        for (var second = 0; second < seconds; second++)
        {
            for (var i = 0; i < values.Length; i++)
            {
                var (channel, value, step) = Cutting[i];
                values[i] = new(Channel.Canonical.First(c => c.Name == channel), value + (second % Variants * step));
            }

            watch.Observe(until - TimeSpan.FromSeconds(seconds - second), values);
        }
    }

    /// <summary>How many messages <see cref="Send"/> sends of so many asked for.</summary>
    public static int Whole(int messages)
    {
        const int round = Connections * BlockPackets;
        return ((messages + round - 1) / round * round) + Connections;
    }

    /// <summary>Sends at least so many messages as fast as they are taken.</summary>
    /// <returns>How many were sent, the marks among them, and the time stamp of the first.</returns>
    public (int Sent, long Began) Send(int messages)
    {
        var began = Stopwatch.GetTimestamp();
        var sent = 0;
        while (sent < messages)
        {
            foreach (var lane in _lanes)
                sent += lane.SendBlock(_qos);
        }

        foreach (var lane in _lanes)
            sent += lane.SendMark(_qos);
        foreach (var lane in _lanes)
            lane.Finish();
        return (sent, began);
    }

    /// <summary>Sends one message, of each machine and channel in turn.</summary>
    public void SendOne() => _lanes[_turn++ % _lanes.Count].SendOne(_qos);

    public void Dispose()
    {
        foreach (var lane in _lanes)
            lane.Dispose();
    }

    private sealed class Lane : IDisposable
    {
        private readonly Wire _wire;
        private readonly List<(byte[] Packets, int Count)> _blocks = [];
        private readonly List<byte[]> _single = [];
        private readonly byte[] _mark;
        private int _next;

        public Lane(int port, int number, int qos, IReadOnlyList<string> machines, PayloadForm form)
        {
            ushort packetId = 1;
            for (var variant = 0; variant < Variants; variant++)
            {
                foreach (var (channel, value, step) in Cutting)
                {
                    foreach (var machine in machines)
                        _single.Add(Wire.Publish($"laserwatch/{machine}/{channel}", Payload(value + (variant * step), form), qos == 0 ? (ushort)0 : packetId++));
                }
            }

            if (_single.Count % BlockPackets != 0)
                throw new ArgumentException($"Whole blocks of {BlockPackets} packets take other numbers of machines.", nameof(machines));
            foreach (var block in _single.Chunk(BlockPackets))
                _blocks.Add(([.. block.SelectMany(p => p)], block.Length));
            _mark = Wire.Publish($"laserwatch/{MarkMachine}{number}/arrived", "1"u8, qos == 0 ? (ushort)0 : packetId);
            _wire = new(port, $"load-{number}-{Guid.NewGuid():N}");
        }

        public int SendBlock(int qos)
        {
            var (packets, count) = _blocks[_next++ % _blocks.Count];
            _wire.AwaitAcknowledged(Window - BlockPackets);
            _wire.Send(packets, qos == 0 ? 0 : count);
            return count;
        }

        public void SendOne(int qos)
        {
            _wire.AwaitAcknowledged(Window - BlockPackets);
            _wire.Send(_single[_next++ % _single.Count], qos == 0 ? 0 : 1);
        }

        public int SendMark(int qos)
        {
            _wire.Send(_mark, qos == 0 ? 0 : 1);
            return 1;
        }

        public void Finish() => _wire.AwaitAcknowledged(0);

        public void Dispose() => _wire.Dispose();

        private static byte[] Payload(double value, PayloadForm form)
        {
            var number = value.ToString("0.##", CultureInfo.InvariantCulture);
            return Encoding.UTF8.GetBytes(form == PayloadForm.Bare ? number : $$"""{"value": {{number}}, "unit_ok": true, "seq": 4711}""");
        }
    }
}
