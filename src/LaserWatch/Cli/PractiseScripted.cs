using LaserWatch.Alarms;
using LaserWatch.Practice;

namespace LaserWatch.Cli;

/// <summary>A practice by a script, told line by line.</summary>
internal static class PractiseScripted
{
    public const int Width = 100;

    // Alarms are told at the second in which they rise.
    private static readonly TimeSpan Step = TimeSpan.FromSeconds(1);

    public static IReadOnlyList<ScriptedAct> Read(string path)
    {
        IReadOnlyList<ScriptedAct> acts;
        string? mistake;
        try
        {
            acts = PracticeScript.Parse(File.ReadLines(path), out mistake);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or NotSupportedException or ArgumentException)
        {
            throw new CommandException(ExitCode.Unreachable, $"cannot read the script {path}: {e.Message}");
        }

        return mistake is null ? acts : throw new CommandException(ExitCode.BadUsage, $"{path}, {mistake}.");
    }

    /// <exception cref="CommandException">An act cannot be done in this case, or comes after the end.</exception>
    public static void Play(PracticeSession session, IReadOnlyList<ScriptedAct> acts, string script, TextWriter output, CancellationToken stop)
    {
        output.WriteLine($"{TextFlow.Harmless(session.Case.Title)}. {TextFlow.Harmless(session.Case.Summary)}");
        var told = session.AlarmsBefore;
        foreach (var scripted in acts)
        {
            while (session.Watched < scripted.At && !session.IsPlayedOut)
            {
                stop.ThrowIfCancellationRequested();
                var left = scripted.At - session.Watched;
                session.Advance(left < Step ? left : Step);
                TellAlarms();
            }

            if (session.Watched < scripted.At && scripted.Act.Kind is not (PracticeActKind.Finish or PracticeActKind.GiveUp))
                throw new CommandException(ExitCode.BadUsage, $"{script}, line {scripted.Line}: the recording is over {(long)session.Watched.TotalSeconds} s after the start; do it before.");
            var done = session.Do(scripted.Act);
            if (!done.IsTaken)
                throw new CommandException(ExitCode.BadUsage, $"{script}, line {scripted.Line}: {done.Answer}.");
            Tell($"you: {DebriefText.Words(done)}. {done.Answer}");
            TellAlarms();
        }

        if (!session.IsOver)
            session.Do(new PracticeAct(PracticeActKind.Finish));
        output.WriteLine();

        void TellAlarms()
        {
            for (; told < session.Changes.Count; told++)
            {
                if (AlarmWords.IsNews(session.Changes[told]))
                    Tell(AlarmWords.Of(session.Changes[told]));
            }
        }

        void Tell(string words)
        {
            foreach (var line in TextFlow.Wrap(words, Width, PracticeWords.TimeOfDay(session.Now) + "  ", "          "))
                output.WriteLine(line);
        }
    }
}
