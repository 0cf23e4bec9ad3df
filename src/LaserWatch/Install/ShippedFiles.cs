using System.Text;
using System.Text.Json;

namespace LaserWatch.Install;

/// <summary>The files of <c>config/</c>, built in: what an installation begins with.</summary>
internal static class ShippedFiles
{
    /// <summary>The shop's own once they are there: never written again.</summary>
    public static readonly IReadOnlyList<string> Examples = ["laserwatch.json", "jobs.json", "causes.json"];

    /// <summary>They describe the program to an editor, so they go with the program.</summary>
    public static readonly IReadOnlyList<string> Schemas = ["laserwatch.schema.json", "jobs.schema.json", "causes.schema.json"];

    public static readonly IReadOnlyList<string> Names = [.. Examples, .. Schemas];

    public static string Read(string name)
    {
        using var stream = typeof(ShippedFiles).Assembly.GetManifestResourceStream(name) ?? throw new InvalidDataException($"{name} was not built in.");
        using var text = new StreamReader(stream, Encoding.UTF8);
        return text.ReadToEnd();
    }

    /// <summary>The example as it stands after an installation: with its store and its log in their own folders.</summary>
    public static string Configuration(InstallLayout layout)
    {
        var text = Read("laserwatch.json");
        text = Set(text, "\"path\": \"data/laserwatch.db\"", "\"path\": " + Quoted(layout.Store));
        return Set(text, "\"folder\": null", "\"folder\": " + Quoted(layout.LogFolder));
    }

    private static string Quoted(string path) => $"\"{JsonEncodedText.Encode(path)}\"";

    private static string Set(string text, string from, string to)
    {
        var at = text.IndexOf(from, StringComparison.Ordinal);
        if (at < 0 || text.IndexOf(from, at + 1, StringComparison.Ordinal) >= 0)
            throw new InvalidDataException($"The built-in laserwatch.json does not hold {from} exactly once.");
        return text.Replace(from, to, StringComparison.Ordinal);
    }
}
