using LaserWatch.Jobs;
using LaserWatch.Recordings;
using LaserWatch.Telemetry;

namespace LaserWatch.Demo.Cases;

/// <summary>What the simulated machine goes through in a shipped case. Fixed in time and seeded: the same recording comes of it every time.</summary>
/// <param name="Name">The case's.</param>
/// <param name="Began">When the fault begins; null: nothing is wrong.</param>
public sealed record CaseScenario(
    string Name, IReadOnlyList<JobRecord> Jobs, SimulatedMachineOptions Machine, IReadOnlyList<PlannedShift> Shifts, Instant? Began)
{
    /// <summary>Writes the recording's lines, unpacked; the first says that it is of no real machine.</summary>
    public void Write(Stream to)
    {
        to.Write(RecordingReader.TrainingMark);
        SimulatedRecording.Write(to, Machine.Machine, Jobs, new SimulatedMachine(Machine).Run(Shifts));
    }
}
