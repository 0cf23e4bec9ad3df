namespace LaserWatch.Telemetry;

/// <summary>Why a message, or a part of one, was not taken.</summary>
public enum Rejection
{
    None,
    UnknownTopic,
    UnknownMachine,
    UnknownChannel,
    PayloadTooLarge,
    NotUtf8,
    NotANumber,
    NotFinite,
    MalformedJson,
    ValueMissing,
    MalformedTime,
    TimeOutOfRange,
    MalformedSenml,
    UnitUnknown,
    MalformedEvent,
    CalibrationFault,
    JobEndWithoutStart,
    TooManyChannels,
    RetainedWithoutTime,
    NotAuthorized,
}
