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

    private readonly Dictionary<string, Known> _known = new(StringComparer.Ordinal);
    private readonly Dictionary<string, Known>.AlternateLookup<ReadOnlySpan<char>> _byText;
    private Known? _last;

    public TopicNames() => _byText = _known.GetAlternateLookup<ReadOnlySpan<char>>();

    public string Of(ReadOnlySpan<byte> topic)
    {
        // Sensors speak in turn: what followed upon the last topic mostly follows again, and only has to be compared.
        if (_last?.Next is { } next && Ascii.Equals(topic, next.Topic))
            return (_last = next).Topic;
        Span<char> text = stackalloc char[Longest];
        if (topic.Length > Longest || Utf8.ToUtf16(topic, text, out _, out var length) != OperationStatus.Done)
            return Encoding.UTF8.GetString(topic);
        if (!_byText.TryGetValue(text[..length], out var known))
            known = Learn(new string(text[..length]));
        _last?.Next = known;
        _last = known;
        return known.Topic;
    }

    private Known Learn(string topic)
    {
        if (_known.Count >= Most)
        {
            _known.Clear();
            _last = null;
        }

        var known = new Known(topic);
        _known.Add(topic, known);
        return known;
    }

    private sealed class Known(string topic)
    {
        public string Topic => topic;

        /// <summary>The topic that came after this one, the last time that another did.</summary>
        public Known? Next { get; set; }
    }
}
