using System.Text;

namespace LaserWatch.Reports;

/// <summary>Writes HTML that is well-formed XML too. Every text and every attribute's value is encoded here and nowhere else.</summary>
internal sealed class Markup
{
    private readonly StringBuilder _text = new();
    private readonly Stack<string> _open = [];

    /// <summary>Begins an element; attributes as name and value, those of null value left out.</summary>
    public Markup Open(string tag, params ReadOnlySpan<(string Name, string? Value)> attributes)
    {
        Begin(tag, attributes);
        _text.Append('>');
        _open.Push(tag);
        return this;
    }

    public Markup Close()
    {
        _text.Append("</").Append(_open.Pop()).Append('>');
        return this;
    }

    /// <summary>As <see cref="Close"/>, and a new line: only for the eye that reads the source.</summary>
    public Markup CloseLine()
    {
        Close();
        _text.Append('\n');
        return this;
    }

    public Markup Line()
    {
        _text.Append('\n');
        return this;
    }

    /// <summary>An element that can hold nothing.</summary>
    public Markup Empty(string tag, params ReadOnlySpan<(string Name, string? Value)> attributes)
    {
        Begin(tag, attributes);
        _text.Append(" />");
        return this;
    }

    public Markup Text(string text)
    {
        Encode(text);
        return this;
    }

    /// <summary>An element that holds a text.</summary>
    public Markup Element(string tag, string text, params ReadOnlySpan<(string Name, string? Value)> attributes) =>
        Open(tag, attributes).Text(text).Close();

    public Markup Paragraph(string text, string? css = null) => Element("p", text, ("class", css)).Line();

    /// <summary>What was written by another <see cref="Markup"/>, or is a constant of the program: not encoded.</summary>
    public Markup Written(string markup)
    {
        _text.Append(markup);
        return this;
    }

    /// <exception cref="InvalidOperationException">An element is still open.</exception>
    public string Finish() => _open.Count == 0 ? _text.ToString() : throw new InvalidOperationException($"The element '{_open.Peek()}' was not closed.");

    private void Begin(string tag, ReadOnlySpan<(string Name, string? Value)> attributes)
    {
        _text.Append('<').Append(tag);
        foreach (var (name, value) in attributes)
        {
            if (value is null)
                continue;
            _text.Append(' ').Append(name).Append("=\"");
            Encode(value);
            _text.Append('"');
        }
    }

    // Control characters and halves of surrogate pairs cannot stand in a document in any form: they show as what they are, unreadable.
    private void Encode(string text)
    {
        for (var i = 0; i < text.Length; i++)
        {
            var letter = text[i];
            if (char.IsHighSurrogate(letter) && i + 1 < text.Length && char.IsLowSurrogate(text[i + 1]))
            {
                _text.Append(letter).Append(text[++i]);
                continue;
            }

            _ = letter switch
            {
                '&' => _text.Append("&amp;"),
                '<' => _text.Append("&lt;"),
                '>' => _text.Append("&gt;"),
                '"' => _text.Append("&quot;"),
                '\'' => _text.Append("&#39;"),
                '\t' or '\n' => _text.Append(letter),
                '\r' => _text,
                < ' ' or (>= '\u007f' and <= '\u009f') or '\ufffe' or '\uffff' => _text.Append('\ufffd'),
                _ => _text.Append(char.IsSurrogate(letter) ? '\ufffd' : letter),
            };
        }
    }
}
