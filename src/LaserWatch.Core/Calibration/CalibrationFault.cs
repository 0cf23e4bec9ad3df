namespace LaserWatch.Calibration;

/// <summary>Why a raw value could not be made a measurement. <c>default</c> is no fault.</summary>
public enum CalibrationFault
{
    None,

    /// <summary>The raw value, or what came of it, is not a finite number.</summary>
    NotFinite,

    /// <summary>The transmitter signals its own failure with a low current (NAMUR NE 43).</summary>
    FailedLow,

    /// <summary>The transmitter signals its own failure with a high current (NAMUR NE 43).</summary>
    FailedHigh,

    /// <summary>Between the measuring and the failure band, where NAMUR NE 43 gives a current no meaning.</summary>
    BetweenBands,

    /// <summary>The sensor reads as if a wire were broken.</summary>
    OpenCircuit,

    /// <summary>The sensor reads as if its wires touched.</summary>
    ShortCircuit,

    /// <summary>Beyond the ends of the table.</summary>
    OutsideTable,
}

public static class CalibrationFaults
{
    /// <summary>True where the fault is the sensor's or its wiring's, so that the channel has no sensor for now.</summary>
    public static bool MeansSensorFailed(this CalibrationFault fault) =>
        fault is CalibrationFault.FailedLow or CalibrationFault.FailedHigh or CalibrationFault.OpenCircuit
            or CalibrationFault.ShortCircuit;

    /// <summary>The fault in words, to follow "the raw value 21.4".</summary>
    public static string InWords(this CalibrationFault fault) => fault switch
    {
        CalibrationFault.None => "is sound",
        CalibrationFault.NotFinite => "gives no finite result",
        CalibrationFault.FailedLow => "is the transmitter's failure signal (NAMUR NE 43: 3.6 mA or less); check its supply and wiring",
        CalibrationFault.FailedHigh => "is the transmitter's failure signal (NAMUR NE 43: 21 mA or more); check the transmitter",
        CalibrationFault.BetweenBands => "lies between the measuring and the failure band of NAMUR NE 43",
        CalibrationFault.OpenCircuit => "looks like a broken wire or a missing sensor",
        CalibrationFault.ShortCircuit => "looks like a short circuit",
        CalibrationFault.OutsideTable => "is outside the calibration table; add points, or set clampEnds",
        _ => throw new ArgumentOutOfRangeException(nameof(fault), fault, "Not a calibration fault."),
    };
}
