using LaserWatch.Models;
using LaserWatch.Monitoring;
using LaserWatch.Telemetry;

namespace LaserWatch.Rules;

/// <summary>The rules of <see cref="SensorHabits"/> without its shortcuts: everything is asked at every sample and at every tick.</summary>
internal sealed class PlainSensorWatch(SensorFaultOptions options)
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

    private readonly PerChannel[] _channels = [.. Channel.Canonical.Select(_ => new PerChannel())];
    private readonly Seldom[] _seldom = [.. Channel.Canonical.Select(_ => new Seldom())];
    private readonly double _stuckFastSeconds = options.StuckFastSeconds;
    private readonly double _stuckSlowSeconds = options.StuckSlowSeconds;

    public long Implausible { get; private set; }

    /// <summary>Takes a fresh sample of a canonical channel. False where the value must not be used.</summary>
    /// <param name="channel">The channel's index.</param>
    public bool Observe(Reading reading, int channel, Instant at, double value, double beamSecondsSinceLast)
    {
        ref var state = ref _channels[channel];
        var range = options.RangeOf(Channel.Canonical[channel]);
        if (!(value >= range.From && value <= range.To))
        {
            Disbelieve(reading, channel, ref state, at, value);
            return false;
        }

        var patience = PatienceWithStillness(channel);
        if (state.Plausible++ == 0)
            _seldom[channel].Implausible = 0;
        FollowInterval(ref state, at);
        state.StretchLow = double.MinNative(state.StretchLow, value);
        state.StretchHigh = double.MaxNative(state.StretchHigh, value);
        state.StretchBeamSeconds += beamSecondsSinceLast;
        if (state.StretchBeamSeconds >= patience)
            EndStretch(ref state, ref _seldom[channel]);
        state.BeamSeconds += beamSecondsSinceLast;
        if (state.Samples == 1 || BitConverter.DoubleToInt64Bits(value) != BitConverter.DoubleToInt64Bits(state.Value))
            FollowChange(reading, channel, ref state, at, value, patience);
        else
            FollowStillness(reading, ref state, at, beamSecondsSinceLast);
        state.LastAt = at;

        var fault = reading.FaultOf(channel);
        if (fault == ChannelFault.Silent || (fault == ChannelFault.Implausible && state.Plausible >= SamplesThatEndAFault))
            fault = ChannelFault.None;
        if (fault is ChannelFault.None or ChannelFault.Stuck)
            fault = IsStuck(channel, in state, in _seldom[channel], patience) ? ChannelFault.Stuck : ChannelFault.None;
        reading.SetFault(channel, fault);
        return true;
    }

    private void Disbelieve(Reading reading, int channel, ref PerChannel state, Instant at, double value)
    {
        Implausible++;
        ref var seldom = ref _seldom[channel];
        state.Plausible = 0;
        if (seldom.Implausible == 0)
            seldom.ImplausibleSince = at;
        seldom.ImplausibleValue = value;
        seldom.Implausible++;
        state.LastAt = at;
        if (seldom.Implausible >= SamplesThatMakeAFault)
            reading.SetFault(channel, ChannelFault.Implausible);
    }

    /// <summary>A sensor said itself that it has failed (a 4–20 mA loop outside its range).</summary>
    public void ObserveFailure(Reading reading, Channel channel, Instant at)
    {
        if (!channel.IsCanonical)
            return;
        Implausible++;
        ref var state = ref _channels[channel.Index];
        ref var seldom = ref _seldom[channel.Index];
        if (seldom.Implausible == 0)
            seldom.ImplausibleSince = at;
        state.Plausible = 0;
        state.LastAt = at;
        if (++seldom.Implausible >= SamplesThatMakeAFault)
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
        for (var channel = 0; channel < Channel.CanonicalCount; channel++)
        {
            if (!SensorHabits.SpeaksRegularly(channel) || !reading.Has(channel))
                continue;
            ref var state = ref _channels[channel];
            if (state.Samples < SamplesBeforeSilenceIsJudged)
                continue;
            var patience = PatienceSeconds(in state);
            var since = state.LastAt > run.Since ? state.LastAt : run.Since;
            if (reading.At.SecondsSince(since) > patience)
                reading.SetFault(channel, ChannelFault.Silent);
        }
    }

    public void Visit(StateVisitor state)
    {
        for (var i = 0; i < _channels.Length; i++)
            Visit(state, ref _channels[i], ref _seldom[i]);
        var implausible = Implausible;
        state.Walk(ref implausible);
        Implausible = implausible;
    }

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
        state.LongestInterval = double.MaxNative(seconds, state.LongestInterval * 0.999);
    }

    private void FollowChange(Reading reading, int channel, ref PerChannel state, Instant at, double value, double patience)
    {
        if (state.SpellBeamSeconds > 0 && reading.FaultOf(channel) != ChannelFault.Stuck)
        {
            ref var seldom = ref _seldom[channel];
            seldom.LongestSpell = Math.Max(seldom.LongestSpell, state.SpellBeamSeconds);
            if (state.SpellBeamSeconds >= patience)
                seldom.LeastRange = 0;
        }

        state.Changes++;
        var step = Math.Abs(value - state.Value);
        if (step < state.LeastStep && step > 0 && state.Samples > 1)
            state.LeastStep = step;
        state.Value = value;
        state.SameSince = at;
        state.SpellBeamSeconds = 0;
        state.Toggles = 0;
        state.ToggleBeam = reading.BeamOn == true;
    }

    private static void FollowStillness(Reading reading, ref PerChannel state, Instant at, double beamSeconds)
    {
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

    private static void EndStretch(ref PerChannel state, ref Seldom seldom)
    {
        // A stretch that is all one stillness is to be judged, not to be judged by, until it has ended by itself.
        if (state.StretchHigh > state.StretchLow)
        {
            seldom.LeastRange = Math.Min(seldom.LeastRange, state.StretchHigh - state.StretchLow);
            seldom.Stretches++;
        }

        (state.StretchLow, state.StretchHigh, state.StretchBeamSeconds) = (double.PositiveInfinity, double.NegativeInfinity, 0);
    }

    private double PatienceWithStillness(int channel) =>
        channel is CanonicalIndex.TubeCurrent or CanonicalIndex.AirPressure ? _stuckFastSeconds : _stuckSlowSeconds;

    private bool IsStuck(int channel, in PerChannel state, in Seldom seldom, double patience)
    {
        if (!SensorHabits.SpeaksRegularly(channel))
            return false;
        // A current that stays the same to the last bit while the beam goes on and off is no current.
        if (channel == CanonicalIndex.TubeCurrent && state.Toggles >= TogglesThatProveTheCurrentStuck && state.Changes > 20)
            return true;
        if (state.BeamSeconds < BeamSecondsBeforeStickingIsJudged || state.Changes < 100 || seldom.Stretches < StretchesBeforeStickingIsJudged)
            return false;
        // A coarse sensor has to be known for weeks: by then it has shown how long it can be still.
        if (seldom.LeastRange < StepsThatCountAsMoving * state.LeastStep && state.BeamSeconds < BeamSecondsBeforeACoarseSensorIsJudged)
            return false;
        return state.SpellBeamSeconds > Math.Max(patience, options.StuckTimesLongest * seldom.LongestSpell);
    }

    private static void Visit(StateVisitor state, ref PerChannel channel, ref Seldom seldom)
    {
        state.Walk(ref channel.Samples);
        state.Walk(ref channel.LastAt);
        state.Walk(ref channel.MeanInterval);
        state.Walk(ref channel.LongestInterval);
        state.Walk(ref channel.Value);
        state.Walk(ref channel.SameSince);
        state.Walk(ref channel.SpellBeamSeconds);
        state.Walk(ref seldom.LongestSpell);
        state.Walk(ref channel.BeamSeconds);
        state.Walk(ref channel.Changes);
        state.Walk(ref channel.Toggles);
        state.Walk(ref channel.ToggleBeam);
        state.Walk(ref channel.LeastStep);
        state.Walk(ref channel.StretchLow);
        state.Walk(ref channel.StretchHigh);
        state.Walk(ref channel.StretchBeamSeconds);
        state.Walk(ref seldom.LeastRange);
        state.Walk(ref seldom.Stretches);
        state.Walk(ref seldom.Implausible);
        state.Walk(ref channel.Plausible);
        state.Walk(ref seldom.ImplausibleSince);
        state.Walk(ref seldom.ImplausibleValue);
    }

    private struct PerChannel()
    {
        public Instant LastAt;
        public double Value;
        public double MeanInterval;
        public double LongestInterval;
        public double StretchLow = double.PositiveInfinity;
        public double StretchHigh = double.NegativeInfinity;
        public double StretchBeamSeconds;
        public double BeamSeconds;
        public double SpellBeamSeconds;
        public double LeastStep = double.PositiveInfinity;
        public Instant SameSince;
        public int Samples;
        public int Changes;
        public int Toggles;
        public int Plausible;
        public bool ToggleBeam;
    }

    private struct Seldom()
    {
        public double LongestSpell;
        public double LeastRange = double.PositiveInfinity;
        public int Stretches;

        /// <summary>Implausible samples in a row; while there are any, there are no plausible ones.</summary>
        public int Implausible;
        public Instant ImplausibleSince;
        public double ImplausibleValue;
    }
}
