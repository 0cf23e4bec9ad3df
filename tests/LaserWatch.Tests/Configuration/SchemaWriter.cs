using System.ComponentModel.DataAnnotations;
using System.Globalization;
using System.Reflection;
using System.Text.Encodings.Web;
using System.Text.Json;
using System.Text.Json.Nodes;
using System.Text.Json.Schema;
using System.Text.Json.Serialization.Metadata;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>The JSON Schema (draft 2020-12) of a configuration file, from the records that the file is read into.</summary>
internal static class SchemaWriter
{
    private static readonly JsonSerializerOptions Print = new() { WriteIndented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static string Write(Type type, string title)
    {
        var root = ConfigurationJson.Options.GetTypeInfo(type).CreateObject!();
        var options = new JsonSchemaExporterOptions { TreatNullObliviousAsNonNullable = true, TransformSchemaNode = (context, node) => Describe(root, context, node) };
        var schema = (JsonObject)ConfigurationJson.Options.GetJsonSchemaAsNode(type, options);
        schema.Insert(0, "$schema", "https://json-schema.org/draft/2020-12/schema");
        schema.Insert(1, "title", title);
        return schema.ToJsonString(Print).ReplaceLineEndings("\n") + "\n";
    }

    private static JsonNode Describe(object root, JsonSchemaExporterContext context, JsonNode node)
    {
        // A type without keywords of its own comes as the schema true.
        var schema = node as JsonObject ?? [];
        var type = Nullable.GetUnderlyingType(context.TypeInfo.Type) ?? context.TypeInfo.Type;
        if (type == typeof(Instant))
        {
            schema["type"] = Nullable.GetUnderlyingType(context.TypeInfo.Type) is null ? JsonValue.Create("string") : new JsonArray("string", "null");
            schema["pattern"] = InstantText.Pattern;
        }

        if (type == typeof(Secret))
        {
            schema["minProperties"] = 1;
            schema["maxProperties"] = 1;
        }

        if (context.PropertyInfo is { } property)
        {
            foreach (var rule in property.AttributeProvider!.GetCustomAttributes(true))
                Bound(schema, rule);
            if (Standard(root, context, property) is { } standard)
                schema["default"] = standard;
        }

        if (Documentation.Of(context) is { Length: > 0 } description)
            schema.Insert(0, "description", description);
        return schema;
    }

    private static void Bound(JsonObject schema, object rule)
    {
        switch (rule)
        {
            case RangeAttribute { OperandType: var type } range when type == typeof(int) || type == typeof(double):
                schema[range.MinimumIsExclusive ? "exclusiveMinimum" : "minimum"] = Number(range.Minimum);
                schema[range.MaximumIsExclusive ? "exclusiveMaximum" : "maximum"] = Number(range.Maximum);
                break;
            case RequiredAttribute when schema["type"] is JsonValue only && only.GetValue<string>() == "string":
                schema["minLength"] = 1;
                break;
            case StringLengthAttribute length:
                if (length.MinimumLength > 0)
                    schema["minLength"] = length.MinimumLength;
                schema["maxLength"] = length.MaximumLength;
                break;
            case RegularExpressionAttribute expression:
                schema["pattern"] = Whole(expression.Pattern);
                break;
            case KeyPatternAttribute keys:
                schema["propertyNames"] = new JsonObject { ["pattern"] = keys.Pattern, ["description"] = keys.Rule };
                break;
        }
    }

    // .NET's attribute asks for the whole text, JSON Schema for a part of it.
    private static string Whole(string pattern) => pattern.StartsWith('^') && pattern.EndsWith('$') ? pattern : $"^(?:{pattern})$";

    private static JsonNode Number(object bound) => JsonValue.Create(Convert.ToDecimal(bound, CultureInfo.InvariantCulture));

    /// <summary>The default of a plain value, for editors to show; an object shows its own members' defaults.</summary>
    private static JsonNode? Standard(object root, JsonSchemaExporterContext context, JsonPropertyInfo property)
    {
        var owner = OwnerIn(root, context.Path) ?? (ConfigurationJson.Options.TryGetTypeInfo(property.DeclaringType, out var declaring) ? declaring.CreateObject?.Invoke() : null);
        if (property.IsRequired || owner is null)
            return null;
        var value = property.Get!(owner);
        return value is double or int or bool or string or Enum
            ? JsonSerializer.SerializeToNode(value, value.GetType(), ConfigurationJson.Options)
            : null;
    }

    /// <summary>The default object that a property at a path of the schema belongs to: its parent may have another default than its type.</summary>
    /// <returns>Null below lists and dictionaries, where every object begins as its type does.</returns>
    private static object? OwnerIn(object root, ReadOnlySpan<string> path)
    {
        object? owner = root;
        for (var i = 0; i < path.Length - 2 && owner is not null; i += 2)
        {
            if (path[i] != "properties")
                return null;
            var name = path[i + 1];
            owner = ConfigurationJson.Options.GetTypeInfo(owner.GetType()).Properties.First(p => p.Name == name).Get!(owner);
        }

        return owner;
    }
}
