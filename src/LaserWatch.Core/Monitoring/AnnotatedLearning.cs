using LaserWatch.History;
using LaserWatch.Telemetry;

namespace LaserWatch.Monitoring;

/// <summary>The spans that people have annotated, and the pauses in which nothing is learned from them.</summary>
/// <remarks>What is judged at once goes by the newest time, the tube by that of the samples it is given in order.</remarks>
/// <param name="learned">Walks what is learned at once.</param>
/// <param name="learnedOfTube">Walks what is learned in order.</param>
internal sealed class AnnotatedLearning(Action<StateVisitor> learned, Action<StateVisitor> learnedOfTube)
{
    private readonly AnnotationBook _annotations = new();
    private readonly LearningPause _pause = new(learned);
    private readonly LearningPause _pauseOfTube = new(learnedOfTube);

    public bool HasAny { get; private set; }

    /// <summary>See <see cref="AnnotationBook.FingerprintUntil"/>.</summary>
    public long FingerprintUntil(Instant until) => _annotations.FingerprintUntil(until);

    public void Take(ServiceEvent annotation)
    {
        _annotations.Take(annotation);
        HasAny = _annotations.HasAny;
    }

    public void Follow(Instant at) => _pause.Follow(_annotations.LeavesOut(at));

    /// <summary>True where what was learned of the tube before a span has just been taken up again.</summary>
    public bool FollowOfTube(Instant at) => _pauseOfTube.Follow(_annotations.LeavesOut(at));

    /// <summary>What was learned at once has been thrown away within a span: it is not to come back.</summary>
    public void Renew() => _pause.Renew();

    /// <inheritdoc cref="Renew"/>
    public void RenewOfTube() => _pauseOfTube.Renew();

    public void Visit(StateVisitor state)
    {
        _annotations.Visit(state);
        HasAny = _annotations.HasAny;
        _pause.Visit(state);
        _pauseOfTube.Visit(state);
    }
}
