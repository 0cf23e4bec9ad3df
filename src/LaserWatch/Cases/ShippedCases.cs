using System.Text;
using LaserWatch.Configuration;

namespace LaserWatch.Cases;

/// <summary>The cases of our own simulated shop, from <c>config/cases/</c>, built in.</summary>
/// <remarks>Their names say where and when, never what is wrong: a trainee chooses by name.</remarks>
public static class ShippedCases
{
    private const string Prefix = "cases/";

    /// <summary>Name in the folder's way, with forward slashes, to name as built in: on Windows the build leaves the other slash in it.</summary>
    private static readonly Dictionary<string, string> BuiltIn = typeof(ShippedCases).Assembly.GetManifestResourceNames()
        .ToDictionary(name => name.Replace('\\', '/'), StringComparer.Ordinal);

    /// <summary>By name.</summary>
    public static IReadOnlyList<string> Names { get; } =
        [.. BuiltIn.Keys
            .Where(name => name.StartsWith(Prefix, StringComparison.Ordinal) && name.EndsWith('/' + CaseFolder.SheetFile, StringComparison.Ordinal))
            .Select(name => name[Prefix.Length..^(CaseFolder.SheetFile.Length + 1)])
            .Order(StringComparer.Ordinal)];

    /// <exception cref="ArgumentException">There is no such case.</exception>
    /// <exception cref="InvalidDataException">It has mistakes: the program was built wrongly.</exception>
    public static TrainingCase Open(string name)
    {
        if (!Names.Contains(name))
            throw new ArgumentException($"There is no shipped case '{name}'.", nameof(name));
        var mistakes = new List<ConfigurationMistake>();
        var read = CaseReading.Read(
            $"{Prefix}{name}/{CaseFolder.SheetFile}", Bytes(name, CaseFolder.SheetFile), name, Encoding.UTF8.GetString(Bytes(name, CaseFolder.NotesFile)),
            () => OpenFile(name, CaseFolder.PackedRecording), CausesFile.ReadBuiltIn(), mistakes);
        return mistakes.Count == 0 ? read! : throw new InvalidDataException(string.Join('\n', mistakes));
    }

    /// <summary>A file of a shipped case, byte for byte.</summary>
    internal static byte[] Bytes(string name, string file)
    {
        using var stream = OpenFile(name, file);
        using var bytes = new MemoryStream();
        stream.CopyTo(bytes);
        return bytes.ToArray();
    }

    private static Stream OpenFile(string name, string file) =>
        (BuiltIn.TryGetValue($"{Prefix}{name}/{file}", out var resource) ? typeof(ShippedCases).Assembly.GetManifestResourceStream(resource) : null)
        ?? throw new InvalidDataException($"{file} of the case {name} was not built in.");
}
