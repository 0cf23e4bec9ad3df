using System.Collections;
using System.ComponentModel.DataAnnotations;
using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text.Json;
using System.Text.Json.Serialization.Metadata;
using System.Text.RegularExpressions;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>Nodes to typed records, by what System.Text.Json knows of the types. Goes on after a mistake, so that all are found at once.</summary>
/// <remarks>
/// In place of the framework's binder, which ends at the first mistake and names no line.
/// An object given in part keeps the rest of the default that its property has, and not only of its type. Checked: unknown
/// keys, missing ones, wrong types, nulls, words of enums, validation attributes, and what a record itself
/// says (<see cref="IChecked"/>, <see cref="ICheckedOptions"/>), asked only where everything below it was sound.
/// </remarks>
/// <param name="types">What is known of the types; null: those of the configuration's files.</param>
internal sealed class RecordReader(string file, List<ConfigurationMistake> mistakes, JsonSerializerOptions? types = null)
{
    private readonly JsonSerializerOptions _types = types ?? ConfigurationJson.Options;

    /// <summary>The sound records made, with the nodes they came from; deepest first.</summary>
    public List<(object Record, ConfigurationNode Node)> Made { get; } = [];

    /// <summary>The value, or null where there were mistakes in it.</summary>
    public T? Read<T>(ConfigurationNode node)
        where T : class
    {
        var before = mistakes.Count;
        var value = ReadValue(_types.GetTypeInfo(typeof(T)), node, null);
        return mistakes.Count == before ? (T?)value : null;
    }

    private object? ReadValue(JsonTypeInfo type, ConfigurationNode node, object? standard)
    {
        if (node.Kind == NodeKind.Null)
        {
            Wrong(node, "null is not a value here", $"write {Wanted(type)}, or leave the key out");
            return null;
        }

        return type switch
        {
            { PolymorphismOptions: not null } => ReadOneOf(type, node),
            { Kind: JsonTypeInfoKind.Object } => ReadRecord(type, node, standard, null),
            { Kind: JsonTypeInfoKind.Enumerable } => ReadList(type, node),
            { Kind: JsonTypeInfoKind.Dictionary } => ReadDictionary(type, node),
            _ => ReadLeaf(type, node),
        };
    }

    private object? ReadOneOf(JsonTypeInfo type, ConfigurationNode node)
    {
        var key = type.PolymorphismOptions!.TypeDiscriminatorPropertyName;
        var kinds = type.PolymorphismOptions.DerivedTypes;
        var names = kinds.Select(k => (string)k.TypeDiscriminator!).ToList();
        if (!IsKind(node, NodeKind.Object, type))
            return null;
        if (node[key] is not { } named)
        {
            Wrong(node, $"the key '{key}' is missing", $"add it, with one of {List(names)}");
            return null;
        }

        var place = named.Kind == NodeKind.Text ? names.IndexOf(named.Text) : -1;
        if (place >= 0)
            return ReadRecord(_types.GetTypeInfo(kinds[place].DerivedType), node, null, type);
        Wrong(named, $"{Shown(named)} is no {key}", Instead(named.Text, names));
        return null;
    }

    private object? ReadRecord(JsonTypeInfo type, ConfigurationNode node, object? standard, JsonTypeInfo? oneOf)
    {
        if (!IsKind(node, NodeKind.Object, type))
            return null;

        var before = mistakes.Count;
        var properties = type.Properties.ToDictionary(p => p.Name, StringComparer.Ordinal);
        var discriminator = oneOf?.PolymorphismOptions!.TypeDiscriminatorPropertyName;
        var record = standard is null ? type.CreateObject?.Invoke() : Copy(standard);
        foreach (var (key, line, value) in node.Members)
        {
            if (key == discriminator)
                continue;
            if (!properties.TryGetValue(key, out var property))
            {
                mistakes.Add(FormerKeys.NameToday(key, properties.Keys) is { } today
                    ? new(file, node.PathOf(key), line, "this key has another name now", $"write '{today}'")
                    : new(file, node.PathOf(key), line, "there is no such key", Instead(key, properties.Keys)));
                continue;
            }

            var sound = mistakes.Count;
            var inner = ReadProperty(property, value, record is null ? null : property.Get?.Invoke(record));
            if (record is not null && mistakes.Count == sound)
                property.Set!(record, inner);
        }

        foreach (var property in type.Properties.Where(p => p.IsRequired && node[p.Name] is null))
            Wrong(node, $"the key '{property.Name}' is missing", $"add it, with {Wanted(TypeOf(property))}");
        if (mistakes.Count > before)
            return null;

        // Records whose constructor takes their values are made by the library, now that nothing in them is wrong.
        record ??= JsonSerializer.Deserialize(node.ToJson(), oneOf ?? type);
        Ask(record!, node);
        if (mistakes.Count == before)
            Made.Add((record!, node));
        return record;
    }

    private object? ReadProperty(JsonPropertyInfo property, ConfigurationNode node, object? standard)
    {
        if (node.Kind == NodeKind.Null && property.IsSetNullable && (!property.PropertyType.IsValueType || IsNullable(property.PropertyType)))
            return null;
        if (property.AttributeProvider?.GetCustomAttributes(typeof(KeyPatternAttribute), true).FirstOrDefault() is KeyPatternAttribute keys)
        {
            foreach (var (key, line, _) in node.Members.Where(m => Regex.Match(m.Key, keys.Pattern).Length != m.Key.Length || m.Key.Length == 0))
                mistakes.Add(new(
                    file, node.PathOf(key), line, $"{ConfigurationNode.Quote(key)} is not a name that can stand here", $"use {keys.Rule}"));
        }

        var before = mistakes.Count;
        var value = ReadValue(TypeOf(property), node, standard);
        if (mistakes.Count > before || property.AttributeProvider is not { } attributes)
            return value;

        foreach (var rule in attributes.GetCustomAttributes(typeof(ValidationAttribute), true).Cast<ValidationAttribute>())
        {
            var range = rule as RangeAttribute;
            if (range is not null && value is double or int or long ? IsWithin(range, value) : rule.IsValid(value))
                continue;
            if (rule is RequiredAttribute)
                Wrong(node, "empty", $"write {Wanted(TypeOf(property))}, or leave the key out");
            else if (range is not null)
                Wrong(node, $"{Shown(node)} is out of range", $"write {Wanted(TypeOf(property))} {Bounds(range)}");
            else if (rule is DayRangeAttribute days)
                Wrong(node, $"{Shown(node)} is out of range", $"write {Wanted(TypeOf(property))} from {days.First} to {days.Last}");
            else
                Wrong(node, $"{Shown(node)} is not allowed", rule.FormatErrorMessage(property.Name).TrimEnd('.'));
        }

        return value;
    }

    private object? ReadList(JsonTypeInfo type, ConfigurationNode node)
    {
        if (!IsKind(node, NodeKind.List, type))
            return null;
        var element = _types.GetTypeInfo(type.ElementType!);
        var list = EmptyOf(type, "[]") as IList ?? new List<object>();
        var before = mistakes.Count;
        foreach (var item in node.Items)
        {
            if (ReadValue(element, item, null) is { } value && mistakes.Count == before)
                list.Add(value);
        }

        if (type.Type.IsInstanceOfType(list) || mistakes.Count > before)
            return list;
        return JsonSerializer.Deserialize(node.ToJson(), type);
    }

    private object? ReadDictionary(JsonTypeInfo type, ConfigurationNode node)
    {
        if (!IsKind(node, NodeKind.Object, type))
            return null;
        var element = _types.GetTypeInfo(type.ElementType!);
        var dictionary = EmptyOf(type, "{}") as IDictionary ?? new Dictionary<string, object>();
        var before = mistakes.Count;
        foreach (var (key, _, item) in node.Members)
        {
            if (ReadValue(element, item, null) is { } value && mistakes.Count == before)
                dictionary.Add(key, value);
        }

        if (type.Type.IsInstanceOfType(dictionary) || mistakes.Count > before)
            return dictionary;
        return JsonSerializer.Deserialize(node.ToJson(), type);
    }

    private object? ReadLeaf(JsonTypeInfo type, ConfigurationNode node)
    {
        var plain = Nullable.GetUnderlyingType(type.Type) ?? type.Type;
        if (plain.IsEnum)
        {
            var words = EnumWords(plain);
            if (node.Kind == NodeKind.Text && words.Contains(node.Text))
                return JsonSerializer.Deserialize(node.ToJson(), type);
            Wrong(node, $"{Shown(node)} is not one of the words allowed", Instead(node.Kind == NodeKind.Text ? node.Text : "", words));
            return null;
        }

        if (node.Text.Contains('\0', StringComparison.Ordinal))
        {
            Wrong(node, "there is a NUL character in the text", "take the \\u0000 out");
            return null;
        }

        try
        {
            var value = JsonSerializer.Deserialize(node.ToJson(), type);
            if (value is not (double.PositiveInfinity or double.NegativeInfinity or float.PositiveInfinity or float.NegativeInfinity))
                return value;
            Wrong(node, $"{Shown(node)} is beyond what a number can hold", "write a smaller one");
            return null;
        }
        catch (JsonException)
        {
            Wrong(node, $"{Shown(node)} is not {Wanted(type)}", $"write {Wanted(type)}");
            return null;
        }
    }

    /// <summary>What a record has to say about itself.</summary>
    private void Ask(object record, ConfigurationNode node)
    {
        var found = record switch
        {
            ICheckedOptions options => options.Mistakes(),
            IChecked plain => plain.Mistakes().Select(sentence => OptionMistake.From("", sentence)),
            _ => [],
        };
        foreach (var (member, what, mend) in found)
        {
            var path = member.Length == 0 || node.Path.Length == 0 ? node.Path + member : $"{node.Path}.{member}";
            mistakes.Add(new(file, path, node.Nearest(member).Line, what, mend));
        }
    }

    private bool IsKind(ConfigurationNode node, NodeKind kind, JsonTypeInfo type)
    {
        if (node.Kind == kind)
            return true;

        // Said without the value: it may be a password.
        if (type.Type == typeof(Secret))
            Wrong(node, "a secret must not stand in this file", "write {\"env\": \"NAME\"} or {\"file\": \"path\"}, which say where it stands");
        else
            Wrong(node, $"{Shown(node)} is not {Wanted(type)}", $"write {Wanted(type)}");
        return false;
    }

    private void Wrong(ConfigurationNode node, string what, string mend) => mistakes.Add(new(file, node.Path, node.Line, what, mend));

    // A nullable number is read as the number: null was dealt with before.
    private JsonTypeInfo TypeOf(JsonPropertyInfo property) =>
        _types.GetTypeInfo(Nullable.GetUnderlyingType(property.PropertyType) ?? property.PropertyType);

    private static bool IsNullable(Type type) => Nullable.GetUnderlyingType(type) is not null;

    /// <summary>A record's own copy, as <c>with</c> makes it: the default itself is shared and must not change.</summary>
    [UnsafeAccessor(UnsafeAccessorKind.Method, Name = nameof(MemberwiseClone))]
    private static extern object Copy(object record);

    // The library knows a collection that can grow for every kind that is only to be read.
    private static object? EmptyOf(JsonTypeInfo type, string json) =>
        type.Type.IsArray ? null : JsonSerializer.Deserialize(json, type);

    private static List<string> EnumWords(Type type) => [.. Enum.GetNames(type).Select(ConfigurationJson.WordOf)];

    private static string Wanted(JsonTypeInfo type)
    {
        var plain = Nullable.GetUnderlyingType(type.Type) ?? type.Type;
        if (plain.IsEnum)
            return $"one of {List(EnumWords(plain))}";
        if (plain == typeof(string))
            return "text in quotes";
        if (plain == typeof(bool))
            return "true or false";
        if (plain == typeof(double) || plain == typeof(float) || plain == typeof(decimal))
            return "a number";
        if (plain == typeof(int) || plain == typeof(long) || plain == typeof(short) || plain == typeof(ushort) || plain == typeof(byte) || plain == typeof(uint))
            return "a whole number";
        if (plain == typeof(DateOnly))
            return "a date as in \"2026-03-09\"";
        if (plain == typeof(Instant))
            return "a date or time as in \"2026-03-09\" or \"2026-03-09T08:00:00Z\"";
        if (plain == typeof(TimeSpan))
            return "a time span as in \"00:10:00\"";
        return type.Kind switch
        {
            JsonTypeInfoKind.Enumerable => "a list in [ ]",
            JsonTypeInfoKind.None => $"a {plain.Name}",
            _ => "an object in { }",
        };
    }

    // The attribute rounds a fraction to compare it with whole bounds, and throws on what is beyond their type.
    private static bool IsWithin(RangeAttribute range, object value)
    {
        var number = Convert.ToDouble(value, CultureInfo.InvariantCulture);
        var low = Convert.ToDouble(range.Minimum, CultureInfo.InvariantCulture);
        var high = Convert.ToDouble(range.Maximum, CultureInfo.InvariantCulture);
        return (range.MinimumIsExclusive ? number > low : number >= low) && (range.MaximumIsExclusive ? number < high : number <= high);
    }

    private static string Bounds(RangeAttribute range)
    {
        var low = $"{(range.MinimumIsExclusive ? "above" : "from")} {Convert.ToString(range.Minimum, CultureInfo.InvariantCulture)}";
        var high = $"{(range.MaximumIsExclusive ? "below" : "to")} {Convert.ToString(range.Maximum, CultureInfo.InvariantCulture)}";
        return $"{low} {high}";
    }

    private static string Shown(ConfigurationNode node) => node.Kind switch
    {
        NodeKind.Object => "an object in { }",
        NodeKind.List => "a list in [ ]",
        NodeKind.Text => ConfigurationNode.Quote(node.Text.Length <= 60 ? node.Text : node.Text[..60] + "…"),
        _ => node.Text.Length <= 60 ? node.Text : node.Text[..60] + "…",
    };

    private static string Instead(string word, IEnumerable<string> candidates)
    {
        var all = candidates.ToList();
        var nearest = NearestWord.To(word, all);
        return nearest is null
            ? $"use {(all.Count == 1 ? "" : "one of ")}{List(all)}"
            : $"did you mean '{nearest}'? Allowed: {List(all)}";
    }

    private static string List(IEnumerable<string> words) => string.Join(", ", words);
}
