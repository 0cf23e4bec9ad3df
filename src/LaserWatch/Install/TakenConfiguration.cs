using System.Collections;
using System.Text.Json.Serialization.Metadata;
using LaserWatch.Configuration;

namespace LaserWatch.Install;

/// <summary>A shop's own configuration, sound, with the files that it names relative to itself.</summary>
/// <param name="Text">The file as it is.</param>
/// <param name="Files">Where each file stands, and its place relative to the configuration.</param>
/// <param name="WritableFolders">Folders besides the service's own that the agent must write to.</param>
public sealed record TakenConfiguration(string Text, IReadOnlyList<(string From, string Relative)> Files, IReadOnlyList<string> WritableFolders)
{
    /// <exception cref="InstallException">It has mistakes, or would not work from its new place.</exception>
    public static TakenConfiguration Read(string path, InstallLayout layout)
    {
        var read = ConfigurationFile.Read(path);
        if (read.Value is not { } options)
            throw new InstallException(string.Join("\nlaserwatch: ", read.Mistakes), isUsage: true);

        var file = Path.GetFullPath(path);
        var folder = Path.GetDirectoryName(file)!;
        var text = File.ReadAllText(file);
        var written = ConfigurationFile.ReadNodes(path, [])!;
        RequireAbsolute("store.path", written["store"]?["path"]?.Text ?? LaserWatchOptions.Default.Store.Path, layout.Store);
        if (options.Log.Folder is not null)
            RequireAbsolute("log.folder", written["log"]?["folder"]?.Text ?? "", layout.LogFolder);

        var named = new HashSet<string>(StringComparer.Ordinal);
        Collect(options, folder, named);
        var files = named.Where(File.Exists).Order(StringComparer.Ordinal)
            .Where(each => !text.Contains(each, StringComparison.Ordinal)) // named by its full path: it stays where it is
            .Select(each => (each, Path.GetRelativePath(folder, each))).ToList();
        return new(text, files, FoldersOutside(options, layout));

        void RequireAbsolute(string key, string value, string example)
        {
            if (!Path.IsPathRooted(value))
            {
                throw new InstallException(
                    $"{path}: {key} is '{value}', relative to the file; in {layout.ConfigurationFolder} the service may not write. Set {key} to a full path, such as {example}.",
                    isUsage: true);
            }
        }
    }

    /// <summary>Folders besides the service's own that the agent must write to.</summary>
    public static IReadOnlyList<string> FoldersOutside(LaserWatchOptions options, InstallLayout layout)
    {
        string?[] written = [Path.GetDirectoryName(options.Store.Path), options.Log.Folder];
        return [.. written.OfType<string>().Where(each => !layout.IsWithin(each, layout.StateFolder) && !layout.IsWithin(each, layout.LogFolder)).Distinct()];
    }

    // Paths were made absolute when the file was read, so those of its own folder can be told by their beginning, whichever key they stand at.
    private static void Collect(object? value, string folder, HashSet<string> files)
    {
        if (value is string text)
        {
            if (text.StartsWith(folder + Path.DirectorySeparatorChar, StringComparison.Ordinal))
                files.Add(text);
        }
        else if (value is IDictionary dictionary)
        {
            Collect(dictionary.Values, folder, files);
        }
        else if (value is IEnumerable list)
        {
            foreach (var each in list)
                Collect(each, folder, files);
        }
        else if (value is not null && ConfigurationJson.Options.GetTypeInfo(value.GetType()) is { Kind: JsonTypeInfoKind.Object } type)
        {
            foreach (var key in type.Properties.Where(key => key.Get is not null))
                Collect(key.Get!(value), folder, files);
        }
    }
}
