using System.Collections;
using System.Text.Json.Serialization.Metadata;

namespace LaserWatch.Configuration;

/// <summary>The files of a configuration that nobody else should read: passwords, tokens, private keys.</summary>
internal static class SecretFiles
{
    private const string KeyFile = "keyFile";

    /// <summary>One line for each that others may read, with its mode and the mend.</summary>
    public static IEnumerable<string> Warnings(LaserWatchOptions options) =>
        Of(options).Distinct(StringComparer.Ordinal).Where(OwnFiles.IsOpenToOthers).Select(Warning);

    public static string Warning(string file) =>
        $"Every user of this machine may read the secret in {file} (mode {OwnFiles.ModeOf(file)}): chmod o-rwx {file}, and change the secret where others use this machine";

    /// <summary>Found by their kind wherever they stand, so that a new option with a secret is not forgotten here.</summary>
    public static IEnumerable<string> Of(object? options)
    {
        switch (options)
        {
            case Secret secret:
                return secret.File is { Length: > 0 } file ? [file] : [];
            case string:
                return [];
            case IDictionary dictionary:
                return dictionary.Values.Cast<object?>().SelectMany(Of);
            case IEnumerable list:
                return list.Cast<object?>().SelectMany(Of);
        }

        if (options is null || ConfigurationJson.Options.GetTypeInfo(options.GetType()) is not { Kind: JsonTypeInfoKind.Object } type)
            return [];
        return type.Properties
            .Where(property => property.Get is not null)
            .Select(property => (property.Name, Value: property.Get!(options)))
            .SelectMany(pair => pair is { Name: KeyFile, Value: string key } ? [key] : Of(pair.Value));
    }
}
