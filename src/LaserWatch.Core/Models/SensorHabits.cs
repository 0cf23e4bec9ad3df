using LaserWatch.Monitoring;
using LaserWatch.Rules;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

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
internal sealed class SensorHabits(SensorFaultOptions options)
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
    private const double MostSecondsLit = 10;
    private const double GapSeconds = 600;

    private readonly Bounds[] _bounds = Ranges.Of(options).OfChannel;
    private readonly PerChannel[] _channels = [.. Channel.Canonical.Select(_ => new PerChannel())];
    private readonly Seldom[] _seldom = [.. Channel.Canonical.Select(_ => new Seldom())];

    public long Implausible { get; private set; }

    /// <summary>Takes a fresh sample of a canonical channel. False where the value must not be used.</summary>
    /// <param name="channel">The channel's index.</param>
    public bool Observe(Reading reading, int channel, Instant at, double value, double beamSeconds)
    {
        ref var state = ref _channels[channel];
        ref readonly var bounds = ref _bounds[channel];
        if (!(value >= bounds.Least && value <= bounds.Greatest))
        {
            Disbelieve(reading, channel, ref state, at, value);
            return false;
        }

        var patience = bounds.PatienceWithStillness;
        if (state.Plausible++ == 0)
            _seldom[channel].Implausible = 0;
        state.Samples++;
        // A gap of a night says nothing of how often the sensor speaks.
        if (state.Samples >= 2 && at.SecondsSince(state.LastAt) is var seconds && !(seconds > GapSeconds && state.Samples > SamplesBeforeSilenceIsJudged))
            FollowInterval(ref state, seconds);
        FollowStretch(ref state, value, beamSeconds);
        if (state.StretchBeamSeconds >= patience)
            EndStretch(ref state, ref _seldom[channel]);
        var beam = new BeamNow(reading, at);
        if (state.Samples > 1 && BitConverter.DoubleToInt64Bits(value) == BitConverter.DoubleToInt64Bits(state.Value))
        {
            FollowStillness(ref state, beam, state.SpellBeamSeconds + beamSeconds);
        }
        else
        {
            // Of a stillness that was told as one nothing is learned, and of one as long that was not, that it may be.
            var before = state.LongestSpell;
            var spell = state.SpellBeamSeconds;
            FollowChange(ref state, beam, at, value);
            if (reading.FaultOf(channel) == ChannelFault.Stuck)
                state.LongestSpell = before;
            else if (spell > 0 && spell >= patience)
                _seldom[channel].LeastRange = 0;
        }

        state.LastAt = at;

        // Neither still for long nor shown to be: a sensor that was believed is believed.
        if (state.SpellBeamSeconds > patience || state.Toggles >= bounds.TogglesThatProveStuck || reading.FaultOf(channel) != ChannelFault.None)
            JudgeFault(reading, channel, in state, patience);
        return true;
    }

    /// <summary>How long a beam that is on counts as having been on when a channel speaks so long after it did last.</summary>
    public static double SecondsLit(double secondsSinceLast) => Math.Min(secondsSinceLast, MostSecondsLit);

    private void JudgeFault(Reading reading, int channel, in PerChannel state, double patience)
    {
        var fault = reading.FaultOf(channel);
        if (fault == ChannelFault.Silent || (fault == ChannelFault.Implausible && state.Plausible >= SamplesThatEndAFault))
            fault = ChannelFault.None;
        if (fault is ChannelFault.None or ChannelFault.Stuck)
            fault = IsStuck(channel, in state, in _seldom[channel], patience) ? ChannelFault.Stuck : ChannelFault.None;
        reading.SetFault(channel, fault);
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
            if (!SpeaksRegularly(channel) || !reading.Has(channel))
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

    /// <summary>How long the channel may be silent, in seconds.</summary>
    public double PatienceSeconds(Channel channel) => PatienceSeconds(in _channels[channel.Index]);

    public (Instant Since, double Value) LastImplausible(Channel channel) =>
        (_seldom[channel.Index].ImplausibleSince, _seldom[channel.Index].ImplausibleValue);

    public Instant SameSince(Channel channel) => _channels[channel.Index].SameSince;

    public void Visit(StateVisitor state)
    {
        for (var i = 0; i < _channels.Length; i++)
            Visit(state, ref _channels[i], ref _seldom[i]);
        var implausible = Implausible;
        state.Walk(ref implausible);
        Implausible = implausible;
    }

    /// <param name="channel">A canonical channel's index.</param>
    public static bool SpeaksRegularly(int channel) => channel is not (CanonicalIndex.Lasing or CanonicalIndex.Power or CanonicalIndex.Runtime);

    private double PatienceSeconds(in PerChannel state) =>
        Math.Max(options.SilentAtLeastSeconds, options.SilentIntervals * Math.Max(state.MeanInterval, state.LongestInterval / 3));

    /// <summary>Takes the seconds since the sample before; the new one is counted already.</summary>
    private static void FollowInterval(ref PerChannel state, double seconds)
    {
        // Of an even pace nothing is left to divide.
        if (seconds != state.MeanInterval)
            state.MeanInterval += (seconds - state.MeanInterval) / Math.Min(state.Samples - 1, 200);
        state.LongestInterval = Math.Max(seconds, state.LongestInterval * 0.999);
    }

    private static void FollowChange(ref PerChannel state, BeamNow beam, Instant at, double value)
    {
        state.LongestSpell = Math.Max(state.SpellBeamSeconds, state.LongestSpell);
        state.Changes++;
        var step = Math.Abs(value - state.Value);
        if (step < state.LeastStep && step > 0 && state.Changes > 1)
            state.LeastStep = step;
        state.Value = value;
        state.SameSince = at;
        state.SpellBeamSeconds = 0;
        state.Toggles = 0;
        state.ToggleBeam = beam.IsOn;
    }

    private static void FollowStillness(ref PerChannel state, BeamNow beam, double spellBeamSeconds)
    {
        state.SpellBeamSeconds = spellBeamSeconds;
        // A picture's beam flickers faster than it is polled, while a smoothed current rightly stays the same.
        if (beam.IsOfPicture)
        {
            state.Toggles = 0;
        }
        else if (beam.IsOn != state.ToggleBeam && beam.HasSettled)
        {
            state.ToggleBeam = beam.IsOn;
            state.Toggles++;
        }
    }

    private static void FollowStretch(ref PerChannel state, double value, double beamSeconds)
    {
        state.StretchLow = Math.Min(state.StretchLow, value);
        state.StretchHigh = Math.Max(state.StretchHigh, value);
        state.StretchBeamSeconds += beamSeconds;
        state.BeamSeconds += beamSeconds;
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

    private bool IsStuck(int channel, in PerChannel state, in Seldom seldom, double patience)
    {
        if (!SpeaksRegularly(channel))
            return false;
        // A current that stays the same to the last bit while the beam goes on and off is no current.
        if (channel == CanonicalIndex.TubeCurrent && state.Toggles >= TogglesThatProveTheCurrentStuck && state.Changes > 20)
            return true;
        if (state.BeamSeconds < BeamSecondsBeforeStickingIsJudged || state.Changes < 100 || seldom.Stretches < StretchesBeforeStickingIsJudged)
            return false;
        // A coarse sensor has to be known for weeks: by then it has shown how long it can be still.
        if (seldom.LeastRange < StepsThatCountAsMoving * state.LeastStep && state.BeamSeconds < BeamSecondsBeforeACoarseSensorIsJudged)
            return false;
        return state.SpellBeamSeconds > Math.Max(patience, options.StuckTimesLongest * state.LongestSpell);
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
        state.Walk(ref channel.LongestSpell);
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

    /// <summary>The beam, as all samples of one instant meet it.</summary>
    private readonly struct BeamNow(Reading reading, Instant at)
    {
        public readonly bool IsOn = reading.BeamOn == true;

        public readonly bool IsOfPicture = reading.Run is { Record: not null, IsVector: false };

        /// <summary>Known, and for long enough as it is now.</summary>
        public readonly bool HasSettled = reading.BeamOn is not null && at - reading.BeamSince > ToggleSettle;
    }

    /// <summary>What every sample of a channel touches: two lines of the processor's cache. A thousand machines do not fit into it otherwise.</summary>
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
        public double LongestSpell;
        public double LeastStep = double.PositiveInfinity;
        public Instant SameSince;
        public int Samples;
        public int Changes;
        public int Toggles;
        public int Plausible;
        public bool ToggleBeam;
    }

    /// <summary>What is touched only where something happens.</summary>
    private struct Seldom()
    {
        public double LeastRange = double.PositiveInfinity;
        public int Stretches;

        /// <summary>Implausible samples in a row; while there are any, there are no plausible ones.</summary>
        public int Implausible;
        public Instant ImplausibleSince;
        public double ImplausibleValue;
    }

    /// <summary>What a channel may show, and how long it may be still with the beam on before it is asked whether it sticks, in seconds.</summary>
    /// <param name="TogglesThatProveStuck">Beams that came or went without a change of the value; of the tube's current alone that says anything.</param>
    private readonly record struct Bounds(double Least, double Greatest, double PatienceWithStillness, int TogglesThatProveStuck);

    /// <summary>The bounds by channel, one copy for all machines of the same options.</summary>
    private sealed class Ranges(SensorFaultOptions options)
    {
        private static Ranges? _newest;
        private readonly SensorFaultOptions _options = options;

        public Bounds[] OfChannel { get; } =
        [
            .. Channel.Canonical.Select(channel => new Bounds(
                options.RangeOf(channel).From, options.RangeOf(channel).To,
                channel.Index is CanonicalIndex.TubeCurrent or CanonicalIndex.AirPressure ? options.StuckFastSeconds : options.StuckSlowSeconds,
                channel.Index == CanonicalIndex.TubeCurrent ? TogglesThatProveTheCurrentStuck : int.MaxValue)),
        ];

        public static Ranges Of(SensorFaultOptions options)
        {
            if (_newest is { } newest && ReferenceEquals(newest._options, options))
                return newest;
            return _newest = new Ranges(options);
        }
    }
}
