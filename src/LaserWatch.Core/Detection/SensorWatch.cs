using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Detection;

/// <summary>Decides for every channel whether its sensor can be believed: not silent, not stuck, not implausible.</summary>
/// <remarks>
/// Silence and sticking are judged while a run is under way, when the rules need the channel and the machine is certainly
/// switched on; a shop that turns everything off in the evening must not be told so. Channels that speak only when they
/// change (lasing, power, the hour meter) are not judged for either.
/// <para>
/// A coarse sensor of a quiet quantity may show one value for hours: it is called stuck only where, in stretches of beam as long as
/// the stillness, it has always moved by several of its own steps, or after weeks in which it was never still for so long.
/// </para>
/// </remarks>
internal sealed class SensorWatch(SensorFaultOptions options)
{
    private const int SamplesBeforeSilenceIsJudged = 20;
    private const int SamplesThatMakeAFault = 2;
    private const int SamplesThatEndAFault = 5;
    private const int TogglesThatProveTheCurrentStuck = 6;
    private static readonly TimeSpan ToggleSettle = TimeSpan.FromSeconds(2.5);
    private const double BeamSecondsBeforeStickingIsJudged = 3600;
    private const double BeamSecondsBeforeACoarseSensorIsJudged = 20 * 3600;
    private const int StretchesBeforeStickingIsJudged = 6;
    private const double StepsThatCountAsMoving = 2.5;

    private readonly PerChannel[] _channels = [.. Channel.Canonical.Select(channel => new PerChannel(options.RangeOf(channel)))];
    private readonly double _stuckFastSeconds = options.StuckFastSeconds;
    private readonly double _stuckSlowSeconds = options.StuckSlowSeconds;

    // No channel that is judged for silence was heard last before this, so until a patience later none can be silent. MinValue: not known.
    private Instant _heardSince = Instant.MinValue;

    public long Implausible { get; private set; }

    /// <summary>Takes a fresh sample of a canonical channel. False where the value must not be used.</summary>
    /// <param name="channel">The channel's index.</param>
    public bool Observe(Reading reading, int channel, Instant at, double value, double beamSecondsSinceLast)
    {
        ref var state = ref _channels[channel];
        if (at < _heardSince)
            _heardSince = at;
        if (!(value >= state.Least && value <= state.Greatest))
        {
            Disbelieve(reading, channel, ref state, at, value);
            return false;
        }

        var patience = PatienceWithStillness(channel);
        state.Implausible = 0;
        state.Plausible++;
        FollowInterval(ref state, at);
        FollowStretch(ref state, value, beamSecondsSinceLast, patience);
        FollowSpell(reading, channel, ref state, at, value, beamSecondsSinceLast, patience);
        state.LastAt = at;

        // Neither still for long nor shown to be: a sensor that was believed is believed.
        var fault = reading.FaultOf(channel);
        if (fault == ChannelFault.None && state.SpellBeamSeconds <= patience && state.Toggles < TogglesThatProveTheCurrentStuck)
            return true;
        if (fault == ChannelFault.Silent || (fault == ChannelFault.Implausible && state.Plausible >= SamplesThatEndAFault))
            fault = ChannelFault.None;
        if (fault is ChannelFault.None or ChannelFault.Stuck)
            fault = IsStuck(channel, in state, patience) ? ChannelFault.Stuck : ChannelFault.None;
        reading.SetFault(channel, fault);
        return true;
    }

    private void Disbelieve(Reading reading, int channel, ref PerChannel state, Instant at, double value)
    {
        Implausible++;
        state.Plausible = 0;
        if (state.Implausible == 0)
            state.ImplausibleSince = at;
        state.ImplausibleValue = value;
        state.Implausible++;
        state.LastAt = at;
        if (state.Implausible >= SamplesThatMakeAFault)
            reading.SetFault(channel, ChannelFault.Implausible);
    }

    /// <summary>A sensor said itself that it has failed (a 4–20 mA loop outside its range).</summary>
    public void ObserveFailure(Reading reading, Channel channel, Instant at)
    {
        if (!channel.IsCanonical)
            return;
        Implausible++;
        ref var state = ref _channels[channel.Index];
        if (at < _heardSince)
            _heardSince = at;
        if (state.Implausible == 0)
            state.ImplausibleSince = at;
        state.Plausible = 0;
        state.LastAt = at;
        if (++state.Implausible >= SamplesThatMakeAFault)
            reading.SetFault(channel.Index, ChannelFault.Implausible);
    }

    /// <summary>Looks for silence, as time passes.</summary>
    public void Tick(Reading reading)
    {
        if (reading.Run is not { } run)
            return;
        // All silent at once: switched off, unless that came in the middle of an announced run with the beam on.
        if (reading.QuietSeconds >= options.SilentAtLeastSeconds && (run.Inferred || reading.BeamOn == false))
            return;
        // No patience is shorter.
        if (_heardSince > Instant.MinValue && reading.At.SecondsSince(_heardSince) <= options.SilentAtLeastSeconds)
            return;
        _heardSince = reading.At;
        for (var channel = 0; channel < Channel.CanonicalCount; channel++)
        {
            if (!SpeaksRegularly(channel) || !reading.Has(channel))
                continue;
            ref var state = ref _channels[channel];
            if (state.Samples < SamplesBeforeSilenceIsJudged)
                continue;
            var patience = PatienceSeconds(in state);
            var since = state.LastAt > run.Since ? state.LastAt : run.Since;
            if (reading.At.SecondsSince(since) > patience)
                reading.SetFault(channel, ChannelFault.Silent);
            else if (state.LastAt < _heardSince)
                _heardSince = state.LastAt;
        }
    }

    /// <summary>How long the channel may be silent, in seconds.</summary>
    public double PatienceSeconds(Channel channel) => PatienceSeconds(in _channels[channel.Index]);

    public (Instant Since, double Value) LastImplausible(Channel channel) =>
        (_channels[channel.Index].ImplausibleSince, _channels[channel.Index].ImplausibleValue);

    public Instant SameSince(Channel channel) => _channels[channel.Index].SameSince;

    public void Visit(StateVisitor state)
    {
        for (var i = 0; i < _channels.Length; i++)
            _channels[i].Visit(state);
        TakeNoShortcut();
        var implausible = Implausible;
        state.Walk(ref implausible);
        Implausible = implausible;
    }

    internal void TakeNoShortcut() => _heardSince = Instant.MinValue;

    /// <param name="channel">A canonical channel's index.</param>
    public static bool SpeaksRegularly(int channel) => channel is not (CanonicalIndex.Lasing or CanonicalIndex.Power or CanonicalIndex.Runtime);

    private double PatienceSeconds(in PerChannel state) =>
        Math.Max(options.SilentAtLeastSeconds, options.SilentIntervals * Math.Max(state.MeanInterval, state.LongestInterval / 3));

    private static void FollowInterval(ref PerChannel state, Instant at)
    {
        state.Samples++;
        if (state.Samples < 2)
            return;
        var seconds = at.SecondsSince(state.LastAt);
        // A gap of a night says nothing of how often the sensor speaks.
        if (seconds > 600 && state.Samples > SamplesBeforeSilenceIsJudged)
            return;
        state.MeanInterval += (seconds - state.MeanInterval) / Math.Min(state.Samples - 1, 200);
        state.LongestInterval = Math.Max(seconds, state.LongestInterval * 0.999);
    }

    private static void FollowSpell(Reading reading, int channel, ref PerChannel state, Instant at, double value, double beamSeconds, double patience)
    {
        if (state.Samples == 1 || BitConverter.DoubleToInt64Bits(value) != BitConverter.DoubleToInt64Bits(state.Value))
        {
            if (reading.FaultOf(channel) != ChannelFault.Stuck)
            {
                state.LongestSpell = Math.Max(state.LongestSpell, state.SpellBeamSeconds);
                if (state.SpellBeamSeconds >= patience)
                    state.LeastRange = 0;
            }

            state.Changes++;
            if (state.Samples > 1 && Math.Abs(value - state.Value) > 0)
                state.LeastStep = Math.Min(state.LeastStep, Math.Abs(value - state.Value));
            state.Value = value;
            state.SameSince = at;
            state.SpellBeamSeconds = 0;
            state.Toggles = 0;
            state.ToggleBeam = reading.BeamOn == true;
            state.BeamSeconds += beamSeconds;
            return;
        }

        state.BeamSeconds += beamSeconds;
        state.SpellBeamSeconds += beamSeconds;
        // A picture's beam flickers faster than it is polled, while a smoothed current rightly stays the same.
        if (reading.Run is { Record: not null, IsVector: false })
            state.Toggles = 0;
        else if (reading.BeamOn is { } on && on != state.ToggleBeam && at - reading.BeamSince > ToggleSettle)
        {
            state.ToggleBeam = on;
            state.Toggles++;
        }
    }

    private static void FollowStretch(ref PerChannel state, double value, double beamSeconds, double patience)
    {
        state.StretchLow = Math.Min(state.StretchLow, value);
        state.StretchHigh = Math.Max(state.StretchHigh, value);
        state.StretchBeamSeconds += beamSeconds;
        if (state.StretchBeamSeconds < patience)
            return;
        // A stretch that is all one stillness is to be judged, not to be judged by, until it has ended by itself.
        if (state.StretchHigh > state.StretchLow)
        {
            state.LeastRange = Math.Min(state.LeastRange, state.StretchHigh - state.StretchLow);
            state.Stretches++;
        }

        (state.StretchLow, state.StretchHigh, state.StretchBeamSeconds) = (double.PositiveInfinity, double.NegativeInfinity, 0);
    }

    private double PatienceWithStillness(int channel) =>
        channel is CanonicalIndex.TubeCurrent or CanonicalIndex.AirPressure ? _stuckFastSeconds : _stuckSlowSeconds;

    private bool IsStuck(int channel, in PerChannel state, double patience)
    {
        if (!SpeaksRegularly(channel))
            return false;
        // A current that stays the same to the last bit while the beam goes on and off is no current.
        if (channel == CanonicalIndex.TubeCurrent && state.Toggles >= TogglesThatProveTheCurrentStuck && state.Changes > 20)
            return true;
        if (state.BeamSeconds < BeamSecondsBeforeStickingIsJudged || state.Changes < 100 || state.Stretches < StretchesBeforeStickingIsJudged)
            return false;
        // A coarse sensor has to be known for weeks: by then it has shown how long it can be still.
        if (state.LeastRange < StepsThatCountAsMoving * state.LeastStep && state.BeamSeconds < BeamSecondsBeforeACoarseSensorIsJudged)
            return false;
        return state.SpellBeamSeconds > Math.Max(patience, options.StuckTimesLongest * state.LongestSpell);
    }

    private struct PerChannel
    {
        public readonly double Least;
        public readonly double Greatest;

        public int Samples;
        public Instant LastAt;
        public double MeanInterval;
        public double LongestInterval;
        public double Value;
        public Instant SameSince;
        public double SpellBeamSeconds;
        public double LongestSpell;
        public double BeamSeconds;
        public int Changes;
        public int Toggles;
        public bool ToggleBeam;
        public double LeastStep = double.PositiveInfinity;
        public double StretchLow = double.PositiveInfinity;
        public double StretchHigh = double.NegativeInfinity;
        public double StretchBeamSeconds;
        public double LeastRange = double.PositiveInfinity;
        public int Stretches;
        public int Implausible;
        public int Plausible;
        public Instant ImplausibleSince;
        public double ImplausibleValue;

        public PerChannel(PlausibleRange range) => (Least, Greatest) = (range.From, range.To);

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Samples);
            state.Walk(ref LastAt);
            state.Walk(ref MeanInterval);
            state.Walk(ref LongestInterval);
            state.Walk(ref Value);
            state.Walk(ref SameSince);
            state.Walk(ref SpellBeamSeconds);
            state.Walk(ref LongestSpell);
            state.Walk(ref BeamSeconds);
            state.Walk(ref Changes);
            state.Walk(ref Toggles);
            state.Walk(ref ToggleBeam);
            state.Walk(ref LeastStep);
            state.Walk(ref StretchLow);
            state.Walk(ref StretchHigh);
            state.Walk(ref StretchBeamSeconds);
            state.Walk(ref LeastRange);
            state.Walk(ref Stretches);
            state.Walk(ref Implausible);
            state.Walk(ref Plausible);
            state.Walk(ref ImplausibleSince);
            state.Walk(ref ImplausibleValue);
        }
    }
}
