using System.Numerics;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Statistics;
using LaserWatch.Telemetry;

namespace LaserWatch.Models;

/// <summary>What each channel showed with the beam on, in the last run, and usually in earlier runs of the same job.</summary>
/// <remarks>
/// For a look back, never for an alarm. A run is kept as up to 64 samples a channel, spread evenly over it: of each channel that is full,
/// every second goes and half as many are taken from then on. The median of them does not mind ramps, pauses and corners.
/// </remarks>
internal sealed class RunDigest
{
    private const int MostSamples = 64;
    private const int MostJobs = 64;
    private const int RunsThatCount = 10;
    private const double SettleSeconds = 2;

    private readonly Kept[] _channels = [.. Channel.Canonical.Select(_ => new Kept())];
    private readonly List<UsualJob> _usual = [];
    private int _run = -1;
    private string? _job;
    private Instant _began;
    private Instant _last;

    /// <summary>When the beam first came on in the run; null before there was any.</summary>
    public Instant? Began => _run < 0 ? null : _began;

    /// <summary>The newest sample with the beam on.</summary>
    public Instant Last => _last;

    public string? Job => _job;

    public int RunNumber => _run;

    /// <summary>Takes the channels that are fresh, while a run has its beam on (or its beam is not known).</summary>
    public void Follow(Reading reading, ChannelSet fresh)
    {
        if (reading.Run is not { } run || reading.BeamOn == false)
            return;
        if (run.Number != _run)
            Begin(run, reading.At);
        _job = run.Job;
        _last = reading.At;
        // A picture flickers: there the run's own beginning is what must have settled.
        var since = run.IsRaster || reading.BeamOn is null ? _began : reading.BeamSince;
        if (reading.At.SecondsSince(since) < SettleSeconds)
            return;
        for (var bits = fresh.CanonicalBits; bits != 0; bits &= bits - 1)
        {
            var channel = BitOperations.TrailingZeroCount(bits);
            if (reading.Has(channel))
                _channels[channel].Add(reading[channel]);
        }
    }

    /// <summary>Median and robust standard deviation of a channel in the run, and how many samples were met; null where there were none.</summary>
    public (double Median, double Deviation, long Samples)? Of(Channel channel)
    {
        ref readonly var kept = ref _channels[channel.Index];
        if (kept.Count == 0)
            return null;
        var median = Middle(kept);
        Span<double> distances = stackalloc double[kept.Count];
        for (var i = 0; i < kept.Count; i++)
            distances[i] = Math.Abs(kept.Values[i] - median);
        return (median, 1.4826 * RobustLocation.Median(distances), kept.Met);
    }

    /// <summary>The mean over earlier runs of the job of their medians, and over how many; null where there were none.</summary>
    public (double Value, int Runs)? Usual(Channel channel) =>
        _job is not null && _usual.Find(u => u.Job == _job) is { } usual && usual.Runs[channel.Index] > 0
            ? (usual.Values[channel.Index], (int)usual.Runs[channel.Index])
            : null;

    public void Visit(StateVisitor state)
    {
        state.Walk(ref _run);
        state.Walk(ref _job);
        state.Walk(ref _began);
        state.Walk(ref _last);
        for (var i = 0; i < _channels.Length; i++)
            _channels[i].Visit(state);
        state.Walk(_usual, () => new UsualJob(), usual => usual.Visit(state));
    }

    private void Begin(Run run, Instant at)
    {
        if (_job is not null)
            Fold(_job);
        for (var i = 0; i < _channels.Length; i++)
            _channels[i].Clear();
        (_run, _began) = (run.Number, at);
    }

    private void Fold(string job)
    {
        var place = _usual.FindIndex(u => u.Job == job);
        var usual = place < 0 ? new UsualJob { Job = job } : _usual[place];
        if (place >= 0)
            _usual.RemoveAt(place);
        else if (_usual.Count == MostJobs)
            _usual.RemoveAt(0);
        _usual.Add(usual); // the one cut longest ago stands first
        for (var i = 0; i < _channels.Length; i++)
        {
            if (_channels[i].Count == 0)
                continue;
            usual.Runs[i]++;
            usual.Values[i] += (Middle(_channels[i]) - usual.Values[i]) / Math.Min(usual.Runs[i], RunsThatCount);
        }
    }

    private static double Middle(in Kept kept)
    {
        Span<double> values = stackalloc double[kept.Count];
        kept.Values.AsSpan(0, kept.Count).CopyTo(values);
        return RobustLocation.Median(values);
    }

    private struct Kept()
    {
        /// <summary>None for a channel that was never heard with the beam on.</summary>
        public double[] Values = [];
        public int Count;
        public long Met;
        private int _stride = 1;
        private int _skip;

        public void Add(double value)
        {
            Met++;
            if (_skip > 0)
            {
                _skip--;
                return;
            }

            if (Count == MostSamples)
            {
                for (var i = 0; i < MostSamples / 2; i++)
                    Values[i] = Values[2 * i];
                Count = MostSamples / 2;
                _stride = Math.Min(_stride * 2, 1 << 20);
            }

            if (Values.Length == 0)
                Values = new double[MostSamples];
            Values[Count++] = value;
            _skip = _stride - 1;
        }

        public void Clear() => (Count, Met, _stride, _skip) = (0, 0, 1, 0);

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Values);
            state.Walk(ref Count);
            state.Walk(ref Met);
            state.Walk(ref _stride);
            state.Walk(ref _skip);
            if (state.IsLoading && (Values.Length is not (0 or MostSamples) || Count < 0 || Count > Values.Length || _stride < 1))
                StateVisitor.Refuse();
        }
    }

    private sealed class UsualJob
    {
        public string? Job;
        public double[] Values = new double[Channel.Canonical.Count];
        public double[] Runs = new double[Channel.Canonical.Count];

        public void Visit(StateVisitor state)
        {
            state.Walk(ref Job);
            state.Walk(ref Values);
            state.Walk(ref Runs);
            if (state.IsLoading && (Values.Length != Channel.Canonical.Count || Runs.Length != Channel.Canonical.Count))
                StateVisitor.Refuse();
        }
    }
}
