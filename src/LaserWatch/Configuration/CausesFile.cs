using System.Text;
using LaserWatch.Diagnosis;

namespace LaserWatch.Configuration;

/// <summary>The file of causes, <c>causes.json</c>: the shop's own copy, or the one built into the program.</summary>
public static class CausesFile
{
    private const string BuiltIn = "causes.json";

    /// <summary>Reads and checks a file: a model that can be relied on, or all mistakes at once.</summary>
    public static ConfigurationRead<CauseModel> Read(string path)
    {
        var mistakes = new List<ConfigurationMistake>();
        return Model(path, ConfigurationFile.ReadNodes(path, mistakes), mistakes);
    }

    /// <summary>The model that is built in: <c>config/causes.json</c> as it was at the build.</summary>
    /// <exception cref="InvalidDataException">It has mistakes: the program was built wrongly.</exception>
    public static CauseModel ReadBuiltIn()
    {
        using var stream = typeof(CausesFile).Assembly.GetManifestResourceStream(BuiltIn) ?? throw new InvalidDataException($"{BuiltIn} was not built in.");
        using var text = new StreamReader(stream, Encoding.UTF8);
        var mistakes = new List<ConfigurationMistake>();
        var read = Model(BuiltIn, ConfigurationText.Parse(BuiltIn, Encoding.UTF8.GetBytes(text.ReadToEnd()), mistakes), mistakes);
        return read.Value ?? throw new InvalidDataException(string.Join('\n', read.Mistakes));
    }

    private static ConfigurationRead<CauseModel> Model(string path, ConfigurationNode? root, List<ConfigurationMistake> mistakes)
    {
        var file = root is null ? null : new RecordReader(path, mistakes).Read<CausesOptions>(root);
        return mistakes.Count == 0 ? new(path, file!.ToModel(), []) : new(path, null, [.. mistakes.OrderBy(m => m.Line)]);
    }
}
