using LaserWatch.Configuration;
using LaserWatch.Diagnosis;

namespace LaserWatch.Cases;

/// <summary>A sheet's bytes to the case, wherever they come from, or every mistake in them.</summary>
internal static class CaseReading
{
    /// <param name="file">What the sheet is called in a mistake.</param>
    /// <param name="model">The causes and checks that a case may name.</param>
    public static TrainingCase? Read(
        string file, byte[] sheet, string name, string notes, Func<Stream> openRecording, CauseModel model, List<ConfigurationMistake> mistakes)
    {
        if (ConfigurationText.Parse(file, sheet, mistakes) is not { } root)
            return null;
        var read = new RecordReader(file, mistakes).Read<CaseSheet>(root);
        // Told even where the rest has mistakes, so that nobody has to come twice.
        CheckNames(file, root["causes"], "cause", [.. model.Causes.Select(c => c.Id)], mistakes);
        CheckNames(file, root["checks"], "check", [.. model.Checks.Select(c => c.Id)], mistakes);
        return read is null ? null : new TrainingCase
        {
            Name = name,
            Title = read.Title,
            Machine = read.Machine,
            Level = read.Level,
            Causes = read.Causes,
            Began = read.BeganAt,
            WatchFrom = read.WatchFrom,
            Checks = read.Checks,
            Summary = read.Summary,
            Made = read.Made,
            Notes = notes,
            OpenRecording = openRecording,
        };
    }

    private static void CheckNames(string file, ConfigurationNode? list, string kind, List<string> known, List<ConfigurationMistake> mistakes)
    {
        if (list is not { Kind: NodeKind.List })
            return;
        foreach (var item in list.Items.Where(item => item.Kind == NodeKind.Text && !known.Contains(item.Text)))
        {
            var isOpen = CaseSheet.IsToFillIn(item.Text);
            var nearest = isOpen ? null : NearestWord.To(item.Text, known);
            mistakes.Add(new(
                file, item.Path, item.Line, isOpen ? "still to be filled in" : $"there is no {kind} '{item.Text}'",
                nearest is not null ? $"did you mean '{nearest}'?" : $"name a {kind} of causes.json: {string.Join(", ", known)}"));
        }
    }
}
