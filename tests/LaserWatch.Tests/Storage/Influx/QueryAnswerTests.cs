using System.Text;

namespace LaserWatch.Storage.Influx;

public class QueryAnswerTests
{
    [Fact]
    public void A_table_has_its_times_apart_and_a_cell_for_each_other_column()
    {
        var table = Assert.Single(Read("""
            {"results":[{"statement_id":0,"series":[{"name":"alarm","tags":{"a":"b"},"columns":["time","value","job","beam"],
            "values":[[-9223372036854775806,0.1,null,true],[1773041400000000001,-0,"birch",false]]}]}]}
            """));

        Assert.Equal([-9223372036854775806, 1773041400000000001], table.Times);
        Assert.Equal(["value", "job", "beam"], table.Columns);
        Assert.Equal([new(CellKind.Number, 0.1, null), default, new(CellKind.Truth, 1, null)], table.Row(0).ToArray());
        Assert.Equal([new(CellKind.Number, -0.0, null), new(CellKind.Text, 0, "birch"), new(CellKind.Truth, 0, null)], table.Row(1).ToArray());
        Assert.False(table.IsCut);
    }

    [Fact]
    public void Nothing_found_is_no_table() => Assert.Empty(Read("""{"results":[{"statement_id":0}]}"""));

    [Fact]
    public void A_table_that_the_server_has_cut_says_so() =>
        Assert.True(Assert.Single(Read("""{"results":[{"series":[{"name":"t","columns":["time","a"],"values":[[1,2]],"partial":true}]}]}""")).IsCut);

    [Theory]
    [InlineData("""{"results":[{"statement_id":0,"error":"database not found: shop"}]}""", InfluxFaultKind.Setup, "it answers 404: database not found: shop; make the bucket (and on InfluxDB before 2.4 its mapping for InfluxQL), or put store.influx.bucket, organisation and url right")]
    [InlineData("""{"error":"error parsing query"}""", InfluxFaultKind.Refused, "it says 'error parsing query'")]
    [InlineData("""<html>""", InfluxFaultKind.Setup, "its answer is not that of an InfluxDB")]
    [InlineData("""{"results":[{"series":[{"columns":["time","a"],"values":[[1]]}]}]}""", InfluxFaultKind.Setup, "a row has not as many values as there are columns")]
    [InlineData("""{"results":""", InfluxFaultKind.Setup, "its answer is not that of an InfluxDB")]
    public void What_is_no_answer_is_a_fault_in_words(string json, object kind, string words)
    {
        var fault = Assert.Throws<InfluxFaultException>(() => Read(json));

        Assert.Equal(kind, fault.Kind);
        Assert.Contains(words, fault.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("""{"code":"unauthorized","message":"unauthorized access"}""", "unauthorized access")]
    [InlineData("""{"error":"partial write"}""", "partial write")]
    [InlineData("no JSON", "no JSON")]
    [InlineData("", null)]
    [InlineData("[]", null)]
    public void The_words_of_an_error_are_found(string body, string? words) => Assert.Equal(words, QueryAnswer.ErrorOf(Encoding.UTF8.GetBytes(body)));

    private static IReadOnlyList<AnswerTable> Read(string json) => QueryAnswer.Read(Encoding.UTF8.GetBytes(json));
}
