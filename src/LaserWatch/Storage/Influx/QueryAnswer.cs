using System.Text;
using System.Text.Json;
using LaserWatch.Payloads;

namespace LaserWatch.Storage.Influx;

internal enum CellKind
{
    Nothing,
    Number,
    Truth,
    Text,
}

/// <summary>One value of a row.</summary>
/// <param name="Number">The number; 0 or 1 of a truth value.</param>
/// <param name="Text">The text; of other kinds null.</param>
internal readonly record struct Cell(CellKind Kind, double Number, string? Text);

/// <summary>One table of an answer. <see cref="Times"/> is the column <c>time</c>, and <see cref="Columns"/> are the others.</summary>
/// <param name="Times">Nanoseconds since 1970, one a row; empty where the answer has no such column.</param>
/// <param name="Cells">Row after row, a cell for each of the columns.</param>
internal sealed record AnswerTable(IReadOnlyList<string> Columns, List<long> Times, List<Cell> Cells)
{
    /// <summary>True where the server says that rows may be missing at the end; 1.6 says it of all answers of more than 10 000 rows.</summary>
    public bool IsCut { get; set; }

    public int Rows => Columns.Count == 0 ? Times.Count : Cells.Count / Columns.Count;

    public ReadOnlySpan<Cell> Row(int row) => System.Runtime.InteropServices.CollectionsMarshal.AsSpan(Cells).Slice(row * Columns.Count, Columns.Count);
}

/// <summary>Reads the JSON that InfluxDB answers an InfluxQL statement with.</summary>
/// <remarks>
/// <c>{"results":[{"series":[{"name":…,"columns":["time",…],"values":[[…],…]}]}]}</c>; numbers are the shortest that read back to the
/// same bits. Published by InfluxData as the response of <c>/query</c>; the errors within an answer of status 200 were seen on 1.6.7.
/// </remarks>
internal static class QueryAnswer
{
    /// <summary>Characters of an error that are passed on.</summary>
    private const int MostWords = 500;

    /// <exception cref="InfluxFaultException">The answer is an error, or cannot be understood.</exception>
    public static IReadOnlyList<AnswerTable> Read(ReadOnlySpan<byte> json)
    {
        var tables = new List<AnswerTable>();
        try
        {
            var reader = new Utf8JsonReader(json);
            reader.Read();
            ReadObject(ref reader, tables);
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException or FormatException)
        {
            throw new InfluxFaultException(InfluxFaultKind.Setup, $"its answer is not that of an InfluxDB ({PayloadText.Clean(e.Message.TrimEnd('.'), MostWords)}); is store.influx.url the address of one?", null, e);
        }

        return tables;
    }

    /// <summary>The words of an answer that is an error; null where it is another text.</summary>
    public static string? ErrorOf(ReadOnlySpan<byte> body)
    {
        try
        {
            var reader = new Utf8JsonReader(body);
            using var document = JsonDocument.ParseValue(ref reader);
            foreach (var name in new[] { "error", "message" })
            {
                if (document.RootElement.ValueKind == JsonValueKind.Object && document.RootElement.TryGetProperty(name, out var words) && words.ValueKind == JsonValueKind.String)
                    return PayloadText.Clean(words.GetString()!, MostWords);
            }

            return null;
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException) // the latter of half a character
        {
            return body.IsEmpty ? null : PayloadText.Clean(Encoding.UTF8.GetString(body[..Math.Min(body.Length, 4 * MostWords)]), MostWords);
        }
    }

    // The objects of the answer, its results and its series differ in their members only, and no name has two meanings.
    private static void ReadObject(ref Utf8JsonReader reader, List<AnswerTable> tables)
    {
        if (reader.TokenType != JsonTokenType.StartObject)
            throw new FormatException("an object was expected");
        List<string> columns = [];
        while (reader.Read() && reader.TokenType != JsonTokenType.EndObject)
        {
            var name = reader.GetString();
            reader.Read();
            switch (name)
            {
                case "results" or "series":
                    while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
                        ReadObject(ref reader, tables);
                    break;
                case "columns":
                    while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
                        columns.Add(reader.GetString()!);
                    break;
                case "values":
                    tables.Add(ReadValues(ref reader, columns));
                    break;
                case "partial" when reader.TokenType == JsonTokenType.True && tables.Count > 0:
                    tables[^1].IsCut = true;
                    break;
                case "error":
                    throw OfWords(reader.GetString()!);
                default:
                    reader.Skip();
                    break;
            }
        }
    }

    private static InfluxFaultException OfWords(string error) => Of(PayloadText.Clean(error, MostWords));

    private static InfluxFaultException Of(string words) =>
        words.StartsWith("database not found", StringComparison.Ordinal)
            ? InfluxFaultException.OfAnswer(System.Net.HttpStatusCode.NotFound, words, null, null)
            : new(InfluxFaultKind.Refused, $"it says '{words}'", null, null);

    private static AnswerTable ReadValues(ref Utf8JsonReader reader, List<string> columns)
    {
        var time = columns.IndexOf("time");
        var table = new AnswerTable([.. columns.Where((_, place) => place != time)], [], []);
        while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
        {
            var place = 0;
            while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
            {
                if (place++ == time)
                    table.Times.Add(reader.GetInt64());
                else
                    table.Cells.Add(ReadCell(ref reader));
            }

            if (place != columns.Count)
                throw new FormatException("a row has not as many values as there are columns");
        }

        return table;
    }

    private static Cell ReadCell(ref Utf8JsonReader reader) => reader.TokenType switch
    {
        JsonTokenType.Null => default,
        JsonTokenType.Number => new(CellKind.Number, reader.GetDouble(), null),
        JsonTokenType.True => new(CellKind.Truth, 1, null),
        JsonTokenType.False => new(CellKind.Truth, 0, null),
        JsonTokenType.String => new(CellKind.Text, 0, reader.GetString()),
        var other => throw new FormatException($"a value is a {other}"),
    };
}
