using System.Buffers.Binary;
using LaserWatch.Demo;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Pipeline;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>A watch's state as it lay on a disk that lost some of it.</summary>
public class SavedStateFuzzTests(ITestOutputHelper output)
{
    [Fact]
    public async Task A_damaged_state_is_refused_and_the_watch_can_be_built_anew()
    {
        var scenario = new DemoScenario(new Instant(1773041400000000000));
        using var recording = SimulatedRecording.Open("bay1", scenario.Jobs, scenario.Moments());
        using var reader = new RecordingReader(recording, new ChannelTable());
        var shop = new Shop(_ => MonitorOptions.Default, new JobBook());
        await new Replay(reader, shop, _ => { }).RunAsync(null, null, CancellationToken.None);
        var watch = shop.Find("bay1")!;
        var state = SavedWatch.Pack(watch.Newest!.Value, watch.Save());

        new Fuzzing(output, [state], [], bytes => Restore(bytes, shop.Jobs)) { Finish = WithItsCheckSum }.Run(cases: 1_500);
        new Fuzzing(output, [state], [], bytes =>
        {
            var fresh = new MachineWatch("bay1", MonitorOptions.Default, shop.Jobs);
            if (!SavedWatch.TryUnpack(bytes, out _, out var saved) || !fresh.TryRestore(saved))
                return;
            // Only what is whole is taken up: then it works.
            _ = fresh.Status;
            fresh.Observe(watch.Newest!.Value + TimeSpan.FromSeconds(1), [new(Channel.TubeCurrent, 18), new(Channel.Power, 66)]);
            fresh.Tick(watch.Newest!.Value + TimeSpan.FromSeconds(30));
            _ = fresh.Save();
        }).Run(cases: 1_500);
    }

    // As if a former program had saved it wrongly: taken up or refused, but never an exception.
    private static void Restore(byte[] bytes, JobBook jobs)
    {
        if (SavedWatch.TryUnpack(bytes, out _, out var saved))
            _ = new MachineWatch("bay1", MonitorOptions.Default, jobs).TryRestore(saved);
    }

    private static byte[] WithItsCheckSum(byte[] packed)
    {
        if (packed.Length < sizeof(long) + sizeof(int) + sizeof(uint))
            return packed;
        byte[] whole = [.. packed];
        BinaryPrimitives.WriteUInt32LittleEndian(whole.AsSpan(whole.Length - sizeof(uint)), CheckSum.Of(whole.AsSpan(sizeof(long), whole.Length - sizeof(long) - sizeof(uint))));
        return whole;
    }
}
