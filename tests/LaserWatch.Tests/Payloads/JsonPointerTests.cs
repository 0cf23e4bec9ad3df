using System.Text;
using System.Text.Json;

namespace LaserWatch.Payloads;

public class JsonPointerTests
{
    // RFC 6901 section 5, the whole example (memory; the RFC's document and its twelve pointers).
    private const string Rfc = """
        {"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}
        """;

    [Theory]
    [InlineData("/foo/0", "\"bar\"")]
    [InlineData("/foo/1", "\"baz\"")]
    [InlineData("/", "0")]
    [InlineData("/a~1b", "1")]
    [InlineData("/c%d", "2")]
    [InlineData("/e^f", "3")]
    [InlineData("/g|h", "4")]
    [InlineData("/i\\j", "5")]
    [InlineData("/k\"l", "6")]
    [InlineData("/ ", "7")]
    [InlineData("/m~0n", "8")]
    public void The_examples_of_RFC_6901_are_found(string text, string expected) => Assert.Equal(expected, Find(Rfc, text));

    [Fact]
    public void The_empty_pointer_is_the_whole_document()
    {
        Assert.True(JsonPointer.TryParse("", out var root, out _));
        Assert.True(root.IsRoot);
        Assert.Equal("{", Find(Rfc, ""));
        Assert.Equal("[", Find(Rfc, "/foo"));
    }

    [Theory]
    [InlineData("/foo/2")]
    [InlineData("/foo/01")]
    [InlineData("/foo/-")]
    [InlineData("/foo/-1")]
    [InlineData("/foo/bar")]
    [InlineData("/foo/0/x")]
    [InlineData("/nothing")]
    public void What_is_not_there_is_not_found(string text) => Assert.Null(Find(Rfc, text));

    [Theory]
    [InlineData("""{"a":{"b":[1,{"c":2}]},"x":9}""", "/a/b/1/c", "2")]
    [InlineData("""{"other":{"c":1},"deep":[[],[0,[5]]]}""", "/deep/1/1/0", "5")]
    [InlineData("""{"a":1,"a":2}""", "/a", "1")]
    [InlineData("""{"\u0061":1}""", "/a", "1")]
    [InlineData("""{"0":7}""", "/0", "7")]
    [InlineData("""{"température":3}""", "/température", "3")]
    public void Levels_before_and_beside_are_passed_over(string json, string text, string expected) => Assert.Equal(expected, Find(json, text));

    [Theory]
    [InlineData("foo", "'foo' is no JSON Pointer: begin it with '/', such as '/foo'")]
    [InlineData("/a~2", "'/a~2' is no JSON Pointer: write '~0' for '~' and '~1' for '/' (RFC 6901)")]
    [InlineData("/a~", "'/a~' is no JSON Pointer: write '~0' for '~' and '~1' for '/' (RFC 6901)")]
    public void A_malformed_pointer_is_refused_with_the_mend(string text, string expected)
    {
        Assert.False(JsonPointer.TryParse(text, out _, out var mistake));
        Assert.Equal(expected, mistake);
    }

    [Theory]
    [InlineData("/~01", "~1")]
    [InlineData("/~10", "/0")]
    public void Escapes_are_undone_once(string text, string member) =>
        Assert.Equal("1", Find($$"""{"{{member}}":1}""", text));

    private static string? Find(string json, string text)
    {
        Assert.True(JsonPointer.TryParse(text, out var parsed, out _));
        Assert.Equal(text, parsed.ToString());
        var reader = new Utf8JsonReader(Encoding.UTF8.GetBytes(json));
        if (!parsed.TryFind(ref reader))
            return null;
        return reader.TokenType == JsonTokenType.String ? $"\"{reader.GetString()}\"" : Encoding.UTF8.GetString(reader.ValueSpan);
    }
}
