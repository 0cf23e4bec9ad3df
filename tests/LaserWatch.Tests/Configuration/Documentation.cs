using System.Collections.Concurrent;
using System.Reflection;
using System.Text;
using System.Text.Json.Schema;
using System.Xml.Linq;

namespace LaserWatch.Configuration;

/// <summary>The comments of types and properties as plain text, from the documentation files beside the assemblies.</summary>
internal static class Documentation
{
    private static readonly ConcurrentDictionary<Assembly, Dictionary<string, XElement>> Files = new();

    /// <summary>What a property's comment says, or, where there is no property, the type's; null where there is none.</summary>
    public static string? Of(JsonSchemaExporterContext context) =>
        context.PropertyInfo is { AttributeProvider: PropertyInfo property } ? Of(property) : Of(context.TypeInfo.Type);

    public static string? Of(PropertyInfo property) => Find(property.DeclaringType!, $"P:{Name(property.DeclaringType!)}.{property.Name}");

    public static string? Of(Type type) => Find(type, $"T:{Name(type)}");

    private static string Name(Type type) => type.FullName!.Replace('+', '.');

    private static string? Find(Type type, string member)
    {
        if (type.Assembly.GetName().Name is not ("laserwatch" or "LaserWatch.Core"))
            return null;
        var members = Files.GetOrAdd(type.Assembly, Load);
        if (!members.TryGetValue(member, out var comment))
            return null;
        // Remarks on a type are for those who work on it; remarks on a setting say what it costs.
        return (Words(comment.Element("summary")) + " " + (member[0] == 'P' ? Words(comment.Element("remarks")) : "")).Trim();
    }

    private static Dictionary<string, XElement> Load(Assembly assembly) =>
        XDocument.Load(Path.ChangeExtension(assembly.Location, ".xml")).Descendants("member").ToDictionary(m => m.Attribute("name")!.Value);

    private static string Words(XElement? element)
    {
        var text = new StringBuilder();
        foreach (var node in element?.Nodes() ?? [])
        {
            text.Append(node switch
            {
                XText plain => plain.Value,
                XElement { Name.LocalName: "see" } see => ((string?)see.Attribute("cref") ?? (string?)see.Attribute("langword") ?? "").Split('.', ':')[^1],
                XElement { Name.LocalName: "paramref" } parameter => parameter.Attribute("name")!.Value,
                XElement other => Words(other),
                _ => "",
            });
        }

        return string.Join(' ', text.ToString().Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
    }
}
