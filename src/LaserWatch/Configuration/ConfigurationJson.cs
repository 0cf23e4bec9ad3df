using System.Reflection;
using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;
using LaserWatch.Alarms;
using LaserWatch.Cases;
using LaserWatch.Delivery;
using LaserWatch.Health;
using LaserWatch.Jobs;

namespace LaserWatch.Configuration;

/// <summary>How records are spelled in configuration files: the one source of names for the reader and the schema.</summary>
internal static class ConfigurationJson
{
    public static readonly JsonSerializerOptions Options = Create(
        ConfigurationTypes.Default,
        Words<AlarmPriority>(), Words<AlarmTransition>(), Words<CaseLevel>(), Words<CaseOrigin>(), Words<ClientReading>(), Words<CutMode>(), Words<LogSeverity>(),
        Words<MailSecurity>(), Words<OtlpProtocol>(), Words<SignOfLifeMethod>());

    /// <summary>The same spelling for other types than those of the files.</summary>
    /// <param name="enums">Of every enum that is among them.</param>
    public static JsonSerializerOptions Create(IJsonTypeInfoResolver types, params IEnumerable<JsonConverter> enums)
    {
        var options = new JsonSerializerOptions
        {
            PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
            UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
            RespectNullableAnnotations = true,
            RespectRequiredConstructorParameters = true,
            AllowOutOfOrderMetadataProperties = true,
            NumberHandling = JsonNumberHandling.Strict,
            Converters = { new InstantText() },
            TypeInfoResolver = types.WithAddedModifier(DropWhatCannotBeSet).WithAddedModifier(SetOneByOne),
        };
        foreach (var converter in enums)
            options.Converters.Add(converter);
        options.MakeReadOnly();
        return options;
    }

    /// <summary>How a word of an enum is spelled.</summary>
    public static string WordOf(string name) => JsonNamingPolicy.KebabCaseLower.ConvertName(name);

    private static JsonStringEnumConverter<T> Words<T>()
        where T : struct, Enum => new(JsonNamingPolicy.KebabCaseLower, allowIntegerValues: false);

    private static void DropWhatCannotBeSet(JsonTypeInfo type)
    {
        for (var i = type.Properties.Count - 1; i >= 0; i--)
        {
            if (type.Properties[i] is { Set: null, AssociatedParameter: null })
                type.Properties.RemoveAt(i);
        }
    }

    // Generated code makes an object with init-only properties at one stroke from all their values; the reader begins with the defaults and sets what is written.
    private static void SetOneByOne(JsonTypeInfo type)
    {
        if (type.Kind != JsonTypeInfoKind.Object || type.CreateObject is not null || type.ConstructorAttributeProvider is not ConstructorInfo constructor || constructor.GetParameters().Length > 0)
            return;
        type.CreateObject = () => constructor.Invoke(null);
        foreach (var property in type.Properties)
        {
            if (property.AttributeProvider is PropertyInfo { CanWrite: true } own)
                property.Set = own.SetValue;
        }
    }
}

/// <summary>What the files are read into, known at the build: reading them generates no code and searches no type.</summary>
[JsonSourceGenerationOptions(GenerationMode = JsonSourceGenerationMode.Metadata)]
[JsonSerializable(typeof(LaserWatchOptions))]
[JsonSerializable(typeof(JobsOptions))]
[JsonSerializable(typeof(CausesOptions))]
[JsonSerializable(typeof(CaseSheet))]
internal sealed partial class ConfigurationTypes : JsonSerializerContext;
