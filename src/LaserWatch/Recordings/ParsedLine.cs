using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public enum FieldKind
{
    /// <summary>Neither a number, a truth value nor quoted text.</summary>
    Unreadable,
    Number,

    /// <summary>A whole number marked as one by its suffix, <c>i</c> or <c>u</c>.</summary>
    Whole,
    Truth,
    Text,
}

/// <summary>One field of a line.</summary>
/// <param name="Number">The number; 0 or 1 of a truth value; 0 of text.</param>
/// <param name="Text">The text without quotes and escapes; of other kinds, as written.</param>
public readonly record struct LineField(string Key, FieldKind Kind, double Number, string Text);

/// <summary>One line of line protocol, taken apart. Reused from line to line.</summary>
public sealed class ParsedLine
{
    public string Measurement { get; set; } = "";

    public List<(string Key, string Value)> Tags { get; } = [];

    public List<LineField> Fields { get; } = [];

    public Instant Time { get; set; }

    /// <summary>The length in bytes of measurement and tags as written.</summary>
    public int SeriesKeyLength { get; set; }

    public string? Tag(string key)
    {
        foreach (var tag in Tags)
        {
            if (tag.Key == key)
                return tag.Value;
        }

        return null;
    }

    /// <summary>The newest field of this name; null where there is none.</summary>
    public LineField? Field(string key)
    {
        for (var i = Fields.Count - 1; i >= 0; i--)
        {
            if (Fields[i].Key == key)
                return Fields[i];
        }

        return null;
    }

    public void Clear()
    {
        Measurement = "";
        Tags.Clear();
        Fields.Clear();
        Time = default;
        SeriesKeyLength = 0;
    }
}
