using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;

namespace LaserWatch.Configuration;

/// <summary>How records are spelled in configuration files: the one source of names for the reader and the schema.</summary>
internal static class ConfigurationJson
{
    public static readonly JsonSerializerOptions Options = Create();

    private static JsonSerializerOptions Create()
    {
        var options = new JsonSerializerOptions
        {
            PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
            UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
            RespectNullableAnnotations = true,
            RespectRequiredConstructorParameters = true,
            AllowOutOfOrderMetadataProperties = true,
            NumberHandling = JsonNumberHandling.Strict,
            Converters = { new JsonStringEnumConverter(JsonNamingPolicy.KebabCaseLower, allowIntegerValues: false), new InstantText() },
            TypeInfoResolver = new DefaultJsonTypeInfoResolver { Modifiers = { DropWhatCannotBeSet } },
        };
        options.MakeReadOnly();
        return options;
    }

    private static void DropWhatCannotBeSet(JsonTypeInfo type)
    {
        for (var i = type.Properties.Count - 1; i >= 0; i--)
        {
            if (type.Properties[i] is { Set: null, AssociatedParameter: null })
                type.Properties.RemoveAt(i);
        }
    }
}
