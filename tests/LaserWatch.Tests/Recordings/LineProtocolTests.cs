using System.Text;
using CsCheck;
using LaserWatch.Telemetry;

namespace LaserWatch.Recordings;

public class LineProtocolTests
{
    private static ParsedLine Parse(string text)
    {
        var line = new ParsedLine();
        Assert.True(LineProtocol.TryParse(Encoding.UTF8.GetBytes(text), line, out var mistake), mistake);
        return line;
    }

    private static string MistakeOf(byte[] text)
    {
        Assert.False(LineProtocol.TryParse(text, new ParsedLine(), out var mistake));
        return mistake!;
    }

    [Fact]
    public void A_telemetry_line_is_taken_apart()
    {
        var line = Parse("telemetry,machine=bay1 tube_current=18.2,power=66,lasing=1,air_pressure=209.4 1773041400000000000");

        Assert.Equal("telemetry", line.Measurement);
        Assert.Equal([("machine", "bay1")], line.Tags);
        Assert.Equal(
            [
                new LineField("tube_current", FieldKind.Number, 18.2, "18.2"), new LineField("power", FieldKind.Number, 66, "66"),
                new LineField("lasing", FieldKind.Number, 1, "1"), new LineField("air_pressure", FieldKind.Number, 209.4, "209.4"),
            ],
            line.Fields);
        Assert.Equal(new Instant(1773041400000000000), line.Time);
    }

    [Fact]
    public void Backslashes_escape_comma_space_and_equals_in_names_and_stay_elsewhere()
    {
        var line = Parse(@"my\ mea\,su=re,ta\=g\ a=va\,l\=u\\e\n fie\=ld\,\ b=1 5");

        Assert.Equal("my mea,su=re", line.Measurement);
        Assert.Equal([("ta=g a", @"va,l=u\\e\n")], line.Tags);
        Assert.Equal([new LineField("fie=ld, b", FieldKind.Number, 1, "1")], line.Fields);
    }

    [Fact]
    public void Quoted_text_may_hold_anything_and_escapes_quote_and_backslash()
    {
        var line = Parse("""service,machine=a note="say \"stop\", \\ or a=b c:\d",n=1i 5""");

        Assert.Equal(
            [new LineField("note", FieldKind.Text, 0, """say "stop", \ or a=b c:\d"""), new LineField("n", FieldKind.Whole, 1, "1i")],
            line.Fields);
    }

    [Theory]
    [InlineData("12i", FieldKind.Whole, 12)]
    [InlineData("-12i", FieldKind.Whole, -12)]
    [InlineData("18446744073709551615u", FieldKind.Whole, 18446744073709551615)]
    [InlineData("t", FieldKind.Truth, 1)]
    [InlineData("T", FieldKind.Truth, 1)]
    [InlineData("true", FieldKind.Truth, 1)]
    [InlineData("True", FieldKind.Truth, 1)]
    [InlineData("TRUE", FieldKind.Truth, 1)]
    [InlineData("f", FieldKind.Truth, 0)]
    [InlineData("F", FieldKind.Truth, 0)]
    [InlineData("false", FieldKind.Truth, 0)]
    [InlineData("False", FieldKind.Truth, 0)]
    [InlineData("FALSE", FieldKind.Truth, 0)]
    [InlineData("-1.5e-3", FieldKind.Number, -0.0015)]
    [InlineData("1E+20", FieldKind.Number, 1e20)]
    [InlineData(".5", FieldKind.Number, 0.5)]
    [InlineData("NaN", FieldKind.Unreadable, 0)]
    [InlineData("Infinity", FieldKind.Unreadable, 0)]
    [InlineData("1e999", FieldKind.Unreadable, 0)]
    [InlineData("-1u", FieldKind.Unreadable, 0)]
    [InlineData("1.5i", FieldKind.Unreadable, 0)]
    [InlineData("tRUE", FieldKind.Unreadable, 0)]
    [InlineData("1 2", FieldKind.Number, 1)]
    public void Every_kind_of_value_is_told_apart(string text, FieldKind kind, double number)
    {
        var field = Parse($"m f={text}{(text.Contains(' ') ? "" : " 5")}").Fields[0];

        Assert.Equal((kind, number), (field.Kind, field.Number));
    }

    [Theory]
    [InlineData("telemetry,machine=a power=1", "has no time: every line of a recording ends in nanoseconds since 1970, such as 1773041400000000000")]
    [InlineData("telemetry,machine=a power=1 12x", "has a time that is not a whole number of nanoseconds")]
    [InlineData("telemetry,machine=a power=1 1.5", "has a time that is not a whole number of nanoseconds")]
    [InlineData("telemetry,machine=a power=1 99999999999999999999", "has a time that is not a whole number of nanoseconds")]
    [InlineData("telemetry,machine power=1 5", "has a tag without '='")]
    [InlineData("telemetry,machine= power=1 5", "has a tag 'machine' without a value")]
    [InlineData("telemetry,machine=a,machine=b power=1 5", "has the tag 'machine' twice")]
    [InlineData("telemetry,machine=a 5", "has a field without '='")]
    [InlineData("telemetry,machine=a power= 5", "has a field 'power' without a value")]
    [InlineData("telemetry,machine=a power=1,=2 5", "has a field without '='")]
    [InlineData("telemetry,machine=a power=\"1 5", "has a field 'power' whose text never ends: a closing quote is missing")]
    [InlineData("telemetry,machine=a power=\"1\"x 5", "has something between the field 'power' and the next comma")]
    [InlineData("telemetry,machine=a", "has no fields")]
    [InlineData(",machine=a power=1 5", "has no measurement")]
    public void A_mistake_is_said_in_words(string text, string mistake) => Assert.Equal(mistake, MistakeOf(Encoding.UTF8.GetBytes(text)));

    [Fact]
    public void Invalid_utf8_is_a_mistake() =>
        Assert.Equal("is not valid UTF-8", MistakeOf([.. "telemetry,machine=a power=1 5"u8, 0xff]));

    [Theory]
    [InlineData("", true)]
    [InlineData("   ", true)]
    [InlineData("\r", true)]
    [InlineData("# said", true)]
    [InlineData("  # said", true)]
    [InlineData("m f=1 5 # said", false)]
    public void Blank_lines_and_comments_say_nothing(string text, bool nothing) =>
        Assert.Equal(nothing, LineProtocol.IsBlankOrComment(Encoding.UTF8.GetBytes(text)));

    [Fact]
    public void What_the_formatter_writes_is_read_back_whole()
    {
        // Line breaks cannot be held; a name is not empty, and no tag ends in a backslash.
        var text = Gen.Char[" -~äß漢,=\\\""].Array[1, 12].Select(chars => new string(chars));
        var name = text.Where(t => !t.EndsWith('\\') && t.Trim().Length == t.Length && t[0] is not ('#' or ','));
        Gen.Select(name, name, name, name, text, Gen.Double, Gen.Long).Sample((measurement, tag, tagValue, field, value, number, time) =>
        {
            if (!double.IsFinite(number))
                return;
            var lines = new LineFormatter();
            lines.Measurement(measurement).Tag(tag, tagValue).Field(field + "1", value).Field(field + "2", number).Field("3", true)
                .Time(new Instant(time));

            var line = new ParsedLine();
            Assert.True(LineProtocol.TryParse(lines.Written[..^1], line, out var mistake), mistake);
            Assert.Equal(measurement, line.Measurement);
            Assert.Equal([(tag, tagValue)], line.Tags);
            Assert.Equal((FieldKind.Text, value), (line.Fields[0].Kind, line.Fields[0].Text));
            Assert.Equal((field + "2", BitConverter.DoubleToInt64Bits(number)), (line.Fields[1].Key, BitConverter.DoubleToInt64Bits(line.Fields[1].Number)));
            Assert.Equal(new LineField("3", FieldKind.Truth, 1, "true"), line.Fields[2]);
            Assert.Equal(new Instant(time), line.Time);
        });
    }

    [Fact]
    public void Bytes_without_sense_are_refused_or_read_but_never_thrown_at()
    {
        Gen.Byte[32, 255].Array[0, 60].Sample(bytes => LineProtocol.TryParse(bytes, new ParsedLine(), out _) is var _);
        Gen.OneOf("telemetry", ",", "=", " ", "\\", "\"", "machine", "a", "1", "i", "1773041400000000000", "\t").Array[0, 20].Sample(parts =>
            LineProtocol.TryParse(Encoding.UTF8.GetBytes(string.Concat(parts)), new ParsedLine(), out _) is var _);
    }
}
