using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;
using LaserWatch.Upkeep;

namespace LaserWatch.Models;

/// <summary>What is learned of one machine, from its samples and its service log alone. The rules read it.</summary>
internal sealed class MachineModels
{
    private static readonly ChannelSet OfAir = ChannelSet.Of(Channel.AirPressure) | ChannelSet.RunChange;
    private static readonly ChannelSet OfUsualAir = ChannelSet.Of(Channel.AirPressure, Channel.AirFlow) | ChannelSet.RunChange;
    private static readonly ChannelSet OfRise = ChannelSet.Of(Channel.CoolantFlow, Channel.CoolantOut) | ChannelSet.RunChange;
    private static readonly ChannelSet OfLoop = ChannelSet.Of(Channel.CoolantIn, Channel.CoolantOut);

    public MachineModels(MonitorOptions options, JobBook jobs)
    {
        Sensors = new SensorHabits(options.Sensors);
        Air = new AirLine(options.AirPressure);
        UsualAir = new AirBehaviour(Air, options.AirPressure);
        Tube = new TubeHealth(options.TubeCurrent, options.Runs, jobs);
        Rise = new RiseWatch(options.Coolant);
        Loop = new LoopWatch(options.Coolant);
    }

    /// <summary>Which sensors can be believed.</summary>
    public SensorHabits Sensors { get; }

    /// <summary>When the air pressure counts.</summary>
    public AirLine Air { get; }

    /// <summary>What pressure and flow are usual at each job.</summary>
    public AirBehaviour UsualAir { get; }

    /// <summary>The tube's current against its baseline.</summary>
    public TubeHealth Tube { get; }

    /// <summary>The usual coolant flow, where it is measured.</summary>
    public UsualFlow UsualFlow { get; } = new();

    /// <summary>How much the coolant warms in the tube at like load.</summary>
    public RiseWatch Rise { get; }

    /// <summary>Where the coolant rests at like load and room temperature.</summary>
    public LoopWatch Loop { get; }

    /// <summary>What each channel showed in the last run, and in those before.</summary>
    public RunDigest Digest { get; } = new();

    /// <summary>What was done to each part, and the beam hours since.</summary>
    public ServiceLedger Ledger { get; } = new();

    /// <summary>Teaches the models that go by samples as they come.</summary>
    public void Follow(Reading reading, ChannelSet signs)
    {
        if (signs.Overlaps(OfAir))
            Air.Follow(reading);
        if (signs.Overlaps(OfUsualAir))
            UsualAir.Follow(reading);
        UsualFlow.Follow(reading);
        var (rises, loops) = (signs.Overlaps(OfRise), signs.Overlaps(OfLoop) && LoopWatch.Knows(reading));
        if (!rises && !loops)
            return;
        var load = HeatLoad.Of(reading);
        if (rises)
            Rise.Follow(reading, load);
        if (loops)
            Loop.Follow(reading, load);
    }

    /// <summary>The coolant loop was worked on: its normal is learned anew.</summary>
    public void RestartLoop()
    {
        Loop.Restart();
        Rise.Restart();
    }

    /// <summary>Walks what an annotated span must not change, but for the tube.</summary>
    public void VisitLearned(StateVisitor state)
    {
        UsualAir.Visit(state);
        Digest.Visit(state);
        UsualFlow.Visit(state);
        Rise.Visit(state);
        Loop.Visit(state);
    }

    public void Visit(StateVisitor state)
    {
        Sensors.Visit(state);
        Air.Visit(state);
        VisitLearned(state);
        Tube.Visit(state);
        Ledger.Visit(state);
    }
}
