using LaserWatch.Alarms;
using LaserWatch.Jobs;

namespace LaserWatch.Monitoring;

/// <summary>All machines, by name. A machine is met by its first sample, up to a bound.</summary>
public sealed class Shop(Func<string, MonitorOptions> optionsOf, JobBook jobs, int mostMachines = Shop.MostMachines)
{
    /// <summary>Machines a shop takes before it refuses more: a topic gone mad must not fill the memory.</summary>
    public const int MostMachines = 10_000;

    private readonly Dictionary<string, MachineWatch> _byName = new(StringComparer.Ordinal);

    public JobBook Jobs { get; } = jobs;

    public IReadOnlyCollection<MachineWatch> Machines => _byName.Values;

    /// <summary>Takes a job's recorded values; runs of the job that are under way are judged by them from now on.</summary>
    public IReadOnlyList<AlarmChange> Observe(JobRecord record)
    {
        Jobs.Add(record);
        List<AlarmChange> changes = [];
        foreach (var watch in _byName.Values)
            changes.AddRange(watch.RecordsChanged());
        return changes;
    }

    /// <summary>The machine's watch, made at first sight; null where the shop is full.</summary>
    public MachineWatch? Find(string machine)
    {
        if (_byName.TryGetValue(machine, out var watch))
            return watch;
        if (_byName.Count >= mostMachines)
            return null;
        return Anew(machine);
    }

    /// <summary>Puts a watch that knows nothing in the place of one that could not be restored.</summary>
    public MachineWatch Anew(string machine) => _byName[machine] = new MachineWatch(machine, optionsOf(machine), Jobs);

    /// <summary>The clock that stamps the machine's samples has stepped: a watch in the place of <paramref name="watch"/> that goes on as if it had always gone so.</summary>
    /// <returns>Null where the state cannot be taken up; the old watch stays then.</returns>
    public MachineWatch? Shift(MachineWatch watch, ClockShift shift)
    {
        var shifted = new MachineWatch(watch.Machine, optionsOf(watch.Machine), Jobs);
        return shifted.TryRestore(watch.Save(shift)) ? _byName[watch.Machine] = shifted : null;
    }
}
