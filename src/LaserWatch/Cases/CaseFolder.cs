using System.Text;
using System.Text.RegularExpressions;
using LaserWatch.Configuration;
using LaserWatch.Diagnosis;

namespace LaserWatch.Cases;

/// <summary>A case on the disk: a folder of open formats, read whole or with every mistake at once.</summary>
/// <remarks><c>recording.lp.gz</c> or <c>recording.lp</c>, line protocol; <c>case.json</c>; <c>notes.md</c>. The folder's name is the case's.</remarks>
public static partial class CaseFolder
{
    public const string SheetFile = "case.json", NotesFile = "notes.md", PackedRecording = "recording.lp.gz", PlainRecording = "recording.lp";

    public const string NameRule = "1 to 48 of a-z, 0-9 and '-'";

    private const int MostBytes = 1 << 20;

    public static bool IsName(string name) => NamePattern().IsMatch(name);

    /// <param name="model">The causes and checks that a case may name.</param>
    public static ConfigurationRead<TrainingCase> Read(string folder, CauseModel model)
    {
        var mistakes = new List<ConfigurationMistake>();
        var whole = Path.TrimEndingDirectorySeparator(Path.GetFullPath(folder));
        var name = Path.GetFileName(whole);
        if (!Directory.Exists(whole))
        {
            mistakes.Add(new(folder, "", 0, "there is no such folder", "name the folder of a case, or one of laserwatch case list"));
            return new(folder, null, mistakes);
        }

        if (!IsName(name))
            mistakes.Add(new(folder, "", 0, $"'{name}' is not a case's name", $"name the folder with {NameRule}"));
        var recording = RecordingIn(folder, mistakes);
        var notes = ReadFile(Path.Combine(folder, NotesFile), "write there what happened, what the data showed when, and what to learn", mistakes);
        var sheet = ReadFile(Path.Combine(folder, SheetFile), "copy that of a shipped case and change it", mistakes);
        var read = sheet is null ? null : CaseReading.Read(
            Path.Combine(folder, SheetFile), sheet, name, notes is null ? "" : Encoding.UTF8.GetString(notes),
            () => new FileStream(recording!, FileMode.Open, FileAccess.Read, FileShare.Read, 1 << 16), model, mistakes);
        return new(folder, mistakes.Count == 0 ? read : null, mistakes);
    }

    /// <summary>Writes a case into a new folder, which appears only when it is whole.</summary>
    /// <param name="sheet">The text of <c>case.json</c>.</param>
    /// <param name="writeRecording">Writes the recording's lines; they are packed here.</param>
    /// <param name="notes">The text of <c>notes.md</c>, from what came of the writing and the recording's file.</param>
    /// <exception cref="IOException">Something of that name is there already, or it cannot be written.</exception>
    public static Task<T> WriteAsync<T>(string folder, string sheet, Func<Stream, Task<T>> writeRecording, Func<T, string, string> notes) =>
        MakeAsync(folder, async unfinished =>
        {
            var recording = Path.Combine(unfinished, PackedRecording);
            var outcome = await Recordings.WholeFile.WriteAsync(recording, writeRecording).ConfigureAwait(false);
            await File.WriteAllTextAsync(Path.Combine(unfinished, SheetFile), sheet).ConfigureAwait(false);
            await File.WriteAllTextAsync(Path.Combine(unfinished, NotesFile), notes(outcome, recording)).ConfigureAwait(false);
            return outcome;
        });

    /// <summary>A shipped case as a folder, byte for byte.</summary>
    /// <exception cref="IOException">Something of that name is there already, or it cannot be written.</exception>
    public static Task CopyAsync(string shipped, string folder) => MakeAsync(folder, async unfinished =>
    {
        foreach (var file in (string[])[PackedRecording, SheetFile, NotesFile])
            await File.WriteAllBytesAsync(Path.Combine(unfinished, file), ShippedCases.Bytes(shipped, file)).ConfigureAwait(false);
        return true;
    });

    /// <exception cref="IOException">Something of that name is there already.</exception>
    public static void RefuseExisting(string folder)
    {
        if (Path.Exists(folder))
            throw new IOException($"{folder} is there already, and nothing is ever written over; name another folder");
    }

    private static async Task<T> MakeAsync<T>(string folder, Func<string, Task<T>> fill)
    {
        var whole = Path.TrimEndingDirectorySeparator(Path.GetFullPath(folder));
        RefuseExisting(whole);
        var unfinished = whole + ".unfinished";
        RefuseExisting(unfinished);
        Directory.CreateDirectory(unfinished);
        try
        {
            var outcome = await fill(unfinished).ConfigureAwait(false);
            Directory.Move(unfinished, whole);
            return outcome;
        }
        catch
        {
            Directory.Delete(unfinished, recursive: true);
            throw;
        }
    }

    private static string? RecordingIn(string folder, List<ConfigurationMistake> mistakes)
    {
        string[] there = [.. new[] { PackedRecording, PlainRecording }.Select(file => Path.Combine(folder, file)).Where(File.Exists)];
        if (there.Length == 1)
            return there[0];
        mistakes.Add(there.Length == 0
            ? new(folder, "", 0, $"there is neither {PackedRecording} nor {PlainRecording}", "put the recording there")
            : new(folder, "", 0, $"there are both {PackedRecording} and {PlainRecording}", "take one of them out"));
        return null;
    }

    private static byte[]? ReadFile(string path, string mend, List<ConfigurationMistake> mistakes)
    {
        try
        {
            var file = new FileInfo(path);
            if (file.Exists && file.Length <= MostBytes)
                return File.ReadAllBytes(path);
            mistakes.Add(file.Exists
                ? new(path, "", 0, $"the file is larger than {MostBytes >> 20} MiB", "shorten it")
                : new(path, "", 0, "there is no such file", mend));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            mistakes.Add(new(path, "", 0, $"the file cannot be read ({e.Message.TrimEnd('.')})", "let your user read it"));
        }

        return null;
    }

    [GeneratedRegex(@"\A[a-z0-9-]{1,48}\z")]
    private static partial Regex NamePattern();
}
