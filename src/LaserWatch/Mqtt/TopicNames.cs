using System.Buffers;
using System.Text;
using System.Text.Unicode;

namespace LaserWatch.Mqtt;

/// <summary>Topics as strings, each made once: a shop has some hundred, and hears of each a few times a second.</summary>
/// <remarks>Started afresh when full, so that made-up topics cannot fill the memory. Not safe for several threads.</remarks>
internal sealed class TopicNames
{
    private const int Most = 10_000;
    private const int Longest = 256;

    private readonly HashSet<string> _known = new(StringComparer.Ordinal);
    private readonly HashSet<string>.AlternateLookup<ReadOnlySpan<char>> _byText;

    public TopicNames() => _byText = _known.GetAlternateLookup<ReadOnlySpan<char>>();

    public string Of(ReadOnlySpan<byte> topic)
    {
        Span<char> text = stackalloc char[Longest];
        if (topic.Length > Longest || Utf8.ToUtf16(topic, text, out _, out var length) != OperationStatus.Done)
            return Encoding.UTF8.GetString(topic);
        if (_byText.TryGetValue(text[..length], out var known))
            return known;
        if (_known.Count >= Most)
            _known.Clear();
        var made = new string(text[..length]);
        _known.Add(made);
        return made;
    }
}
