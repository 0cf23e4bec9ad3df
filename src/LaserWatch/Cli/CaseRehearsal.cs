using LaserWatch.Cases;
using LaserWatch.Configuration;
using LaserWatch.History;
using LaserWatch.Recordings;
using LaserWatch.Rehearsal;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>Plays training cases, each with rules that know nothing yet: their sheets say what really was wrong, and so stand for annotations.</summary>
/// <remarks>A case is told by its name where a machine would be: the machines of all of them may bear one name.</remarks>
internal static class CaseRehearsal
{
    private const string All = "all";

    /// <exception cref="CommandException">There is no such case, or its recording cannot be read.</exception>
    public static RehearsedPast Play(IReadOnlyList<string> names, LaserWatchOptions a, LaserWatchOptions b, ChannelTable channels, CancellationToken stop)
    {
        var causes = b.Causes ?? CausesFile.ReadBuiltIn();
        var cases = names.SelectMany(name => name == All ? ShippedCases.Names : [name]).Distinct().Select(name => CaseArgument.Open(name, causes)).ToList();
        var past = new RehearsedPast([], [], 0, null, null, 0, []);
        foreach (var one in cases)
            past = Joined(past, Play(one, a, b, channels, stop));
        return past;
    }

    private static RehearsedPast Play(TrainingCase one, LaserWatchOptions a, LaserWatchOptions b, ChannelTable channels, CancellationToken stop)
    {
        try
        {
            using var reader = one.ReadRecording(channels);
            RehearsedRules[] rules = [new(a.OfNoMachine()), new(b.OfNoMachine())];
            var run = new RehearsalRun([reader], rules);
            run.Play(null, stop);
            return new(
                Named(one, rules[0].Alarms), Named(one, rules[1].Alarms), run.Days, run.First, run.Last, run.Samples,
                run.First is { } first && run.Last is { } last ? Annotated(one, first, last + TimeSpan.FromSeconds(1)) : []);
        }
        catch (Exception e) when (e is IOException or InvalidDataException or UnauthorizedAccessException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read the recording of the case {one.Name}: {e.Message}");
        }
    }

    private static List<RaisedAlarm> Named(TrainingCase one, IReadOnlyList<RaisedAlarm> alarms) => [.. alarms.Select(alarm => alarm with { Machine = one.Name })];

    /// <summary>Good until it began to go wrong, faulty from then on; good throughout where nothing is wrong.</summary>
    private static List<Annotation> Annotated(TrainingCase one, Instant first, Instant end)
    {
        if (one.IsNothingWrong)
            return [Of(AnnotationKind.Good, first, end, null)];
        var began = one.Began is { } at && at > first && at < end ? at : first;
        List<Annotation> spans = [Of(AnnotationKind.Faulty, began, end, one.Causes[0])];
        if (began > first)
            spans.Insert(0, Of(AnnotationKind.Good, first, began, null));
        return spans;

        Annotation Of(AnnotationKind kind, Instant from, Instant to, string? cause) =>
            new(one.Name, $"{one.Name}-{Annotation.NameOf(kind)}", kind, from, to, cause, null, null, null);
    }

    private static RehearsedPast Joined(RehearsedPast x, RehearsedPast y) => new(
        [.. x.AlarmsA, .. y.AlarmsA], [.. x.AlarmsB, .. y.AlarmsB], x.Days + y.Days,
        x.First is { } first && !(y.First < first) ? first : y.First, x.Last is { } last && !(y.Last > last) ? last : y.Last,
        x.Samples + y.Samples, [.. x.Annotations, .. y.Annotations]);
}
