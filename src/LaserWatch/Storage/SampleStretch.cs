using LaserWatch.Telemetry;

namespace LaserWatch.Storage;

/// <summary>A stretch of a machine's samples in time order: singly, or as moments where the channels were read together. Either is empty.</summary>
/// <param name="Samples">The number of samples in it.</param>
public readonly record struct SampleStretch(ReadOnlyMemory<Sample> Singly, Moments Together, int Samples)
{
    public SampleStretch(ReadOnlyMemory<Sample> singly)
        : this(singly, default, singly.Length)
    {
    }
}
