using System.Text;

namespace LaserWatch.Configuration;

public class ConfigurationNodeTests
{
    [Fact]
    public void Laying_one_object_over_another_replaces_only_what_it_names()
    {
        var shop = Parse("""{ "air": { "hold": 2, "limits": { "a": 1, "b": [1, 2] } }, "coolant": { "hot": 30 } }""");
        var own = Parse("""{ "air": { "limits": { "b": [3], "c": null } }, "tube": { "sag": 0.1 } }""");

        Assert.Equal(
            """{"air":{"hold":2,"limits":{"a":1,"b":[3],"c":null}},"coolant":{"hot":30},"tube":{"sag":0.1}}""",
            shop.With(own).ToJson());
    }

    [Fact]
    public void A_merged_value_keeps_the_line_it_was_written_in()
    {
        var merged = Parse("{\n\"air\": {\n\"hold\": 2, \"off\": 3 } }").With(Parse("{ \"air\":\n\n\n { \"hold\": 4 } }"));

        Assert.Equal((4, 3), (merged["air"]!["hold"]!.Line, merged["air"]!["off"]!.Line));
    }

    [Theory]
    [InlineData("""{"a":[1,-2.50,1e3,true,null,"x\"y\\z é"],"b":{},"c":[]}""")]
    public void Text_written_from_nodes_is_the_text_they_were_read_from(string json) => Assert.Equal(json, Parse(json).ToJson());

    [Fact]
    public void A_path_leads_to_its_node_or_as_near_as_there_is()
    {
        var node = Parse("{ \"sensors\": [ { },\n { \"unit\": 1,\n \"a.b\": 2 } ] }");

        Assert.Equal("sensors[1].unit", node.Nearest("sensors[1].unit").Path);
        Assert.Equal("sensors[1]", node.Nearest("sensors[1].topic").Path);
        Assert.Equal("sensors", node.Nearest("sensors[7]").Path);
        Assert.Equal("sensors[1][\"a.b\"]", node.Nearest("sensors[1]")["a.b"]!.Path);
    }

    private static ConfigurationNode Parse(string json)
    {
        var mistakes = new List<ConfigurationMistake>();
        var node = ConfigurationText.Parse("f", Encoding.UTF8.GetBytes(json), mistakes);
        Assert.Empty(mistakes);
        return node!;
    }
}
