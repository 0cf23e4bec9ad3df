using System.Text.Json.Serialization.Metadata;
using LaserWatch.Alarms;
using LaserWatch.Cases;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>What the reader knows at the build must be all that the files hold.</summary>
public sealed class OptionTypesTests
{
    public static TheoryData<Type> Files => [typeof(LaserWatchOptions), typeof(JobsOptions), typeof(CausesOptions), typeof(CaseSheet)];

    [Theory]
    [MemberData(nameof(Files))]
    public void Every_word_of_an_enum_is_spelled_as_a_word(Type file)
    {
        foreach (var type in Below(file).Where(t => t.IsEnum))
        {
            foreach (var value in Enum.GetValues(type))
                Assert.Equal($"\"{ConfigurationJson.WordOf($"{value}")}\"", System.Text.Json.JsonSerializer.Serialize(value, ConfigurationJson.Options.GetTypeInfo(type)));
        }
    }

    [Theory]
    [MemberData(nameof(Files))]
    public void Every_record_without_a_constructor_of_its_own_begins_with_its_defaults(Type file)
    {
        foreach (var type in Below(file).Where(t => t is { IsClass: true, IsAbstract: false } && t.GetConstructor([]) is not null && t.Namespace!.StartsWith("LaserWatch", StringComparison.Ordinal)))
            Assert.NotNull(ConfigurationJson.Options.GetTypeInfo(type).CreateObject);
    }

    [Fact]
    public void Whoever_has_mistakes_to_tell_is_asked_for_them()
    {
        var silent = from assembly in new[] { typeof(Sample).Assembly, typeof(LaserWatchOptions).Assembly }
                     from type in assembly.GetTypes()
                     where type.GetMethod("Mistakes", []) is not null && !typeof(IChecked).IsAssignableFrom(type) && !typeof(ICheckedOptions).IsAssignableFrom(type)
                     select type.Name;

        Assert.Empty(silent);
    }

    private static HashSet<Type> Below(Type root)
    {
        var met = new HashSet<Type>();
        var open = new Stack<Type>([root]);
        while (open.TryPop(out var next))
        {
            var type = Nullable.GetUnderlyingType(next) ?? next;
            if (!met.Add(type))
                continue;
            var info = ConfigurationJson.Options.GetTypeInfo(type);
            if (info.ElementType is { } element)
                open.Push(element);
            foreach (var property in info.Kind == JsonTypeInfoKind.Object ? info.Properties : [])
                open.Push(property.PropertyType);
            foreach (var derived in info.PolymorphismOptions?.DerivedTypes ?? [])
                open.Push(derived.DerivedType);
        }

        return met;
    }
}
