namespace LaserWatch.Evaluation.Simulation;

/// <summary>The state of every part at the moment, as the faults have left it.</summary>
internal sealed class Damage(IReadOnlyList<Fault> faults)
{
    public double Supply { get; private set; } = 1;

    public double Limit { get; private set; } = 1;

    public double Light { get; private set; } = 1;

    public double Command { get; private set; } = 1;

    public double CurrentGain { get; private set; } = 1;

    public double CurrentZero { get; private set; }

    public double Radiator { get; private set; } = 1;

    public double SetPoint { get; private set; }

    public bool ChillerDead { get; private set; }

    public double Flow { get; private set; } = 1;

    public double AirInLoop { get; private set; }

    public double CoolantOffset { get; private set; }

    public double Kink { get; private set; }

    public double Leak { get; private set; }

    public bool CompressorTripped { get; private set; }

    public double Regulator { get; private set; } = 1;

    public double Nozzle { get; private set; } = 1;

    public bool ValveShut { get; private set; }

    public double Room { get; private set; }

    public double DewPoint { get; private set; }

    public double Work { get; private set; } = 1;

    public void Follow(double time)
    {
        if (faults.Count == 0)
            return;
        (Supply, Limit, Light, Command, CurrentGain, CurrentZero) = (1, 1, 1, 1, 1, 0);
        (Radiator, SetPoint, ChillerDead, Flow, AirInLoop, CoolantOffset) = (1, 0, false, 1, 0, 0);
        (Kink, Leak, CompressorTripped, Regulator, Nozzle, ValveShut, Room, DewPoint, Work) = (0, 0, false, 1, 1, false, 0, 0, 1);
        foreach (var fault in faults)
        {
            var size = fault.At(time);
            if (size != 0)
                Take(fault.Kind, size);
        }
    }

    private void Take(FaultKind kind, double size)
    {
        switch (kind)
        {
            case FaultKind.SupplyFalls:
            case FaultKind.TubeReplaced:
                Supply *= 1 - size;
                Limit *= 1 - size;
                break;
            case FaultKind.LimitFalls:
            case FaultKind.MainsLow:
                Limit *= 1 - size;
                break;
            case FaultKind.LightFalls:
                Light *= 1 - size;
                break;
            case FaultKind.CommandFalls:
                Command *= 1 - size;
                break;
            case FaultKind.ReturnBypassed:
            case FaultKind.CurrentGainFalls:
                CurrentGain *= 1 - size;
                break;
            case FaultKind.CurrentZeroFalls:
                CurrentZero -= size;
                break;
            case FaultKind.RadiatorLoses:
                Radiator *= 1 - size;
                break;
            case FaultKind.SetPointMoved:
                SetPoint += size;
                break;
            case FaultKind.ChillerDead:
                ChillerDead = true;
                break;
            case FaultKind.PumpWeak:
                Flow *= 1 - size;
                break;
            case FaultKind.AirInLoop:
                AirInLoop = size;
                break;
            case FaultKind.CoolantOffset:
                CoolantOffset += size;
                break;
            case FaultKind.LineKinked:
                Kink = size;
                break;
            case FaultKind.LineLeaks:
                Leak = size;
                break;
            case FaultKind.CompressorTripped:
                CompressorTripped = true;
                break;
            case FaultKind.RegulatorLow:
                Regulator *= 1 - size;
                break;
            case FaultKind.NozzleClogged:
                Nozzle *= 1 - size;
                break;
            case FaultKind.NozzleOpen:
                Nozzle *= 1 + size;
                break;
            case FaultKind.ValveShut:
                ValveShut = true;
                break;
            case FaultKind.RoomWarmer:
                Room += size;
                break;
            case FaultKind.AirMoister:
                DewPoint += size;
                break;
            case FaultKind.MoreWork:
                Work *= 1 + size;
                break;
        }
    }
}
