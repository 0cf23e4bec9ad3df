using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;

namespace LaserWatch.Pipeline;

public class SenderRightsTests
{
    private static readonly Instant Now = Instant.FromUnixSeconds(1_773_043_200);

    [Theory]
    [InlineData("ana", "ana", "ana")]
    [InlineData("ana", "ben", "ana (claims: ben)")]
    [InlineData(null, "ben", "ben")]
    public void By_is_who_logged_in_where_that_is_known(string? user, string claim, string by) =>
        Assert.Equal((by, null), Command(user, claim));

    [Fact]
    public void Only_those_listed_command_and_a_claim_helps_nobody_who_had_to_log_in()
    {
        Assert.Equal(("ana", null), Command("ana", "ana", "ana"));
        Assert.Equal((null, "'ben' is not among commands.by"), Command("ben", "ana", "ana"));
        Assert.Equal((null, "'ben' is not among commands.by"), Command(null, "ben", "ana"));

        // An outside broker does not tell: the claim is all there is, and its access list the guard.
        Assert.Equal(("ana", null), Command(null, "ana", "ana"));
    }

    [Fact]
    public void A_pack_that_names_other_channels_than_its_sender_may_loses_them_and_keeps_the_rest()
    {
        var decoded = Decode("laserwatch/bay1/air_pressure", """[{"n":"air_pressure","v":200},{"n":"coolant_in","v":99},{"n":"power","v":1}]""");
        Assert.Equal(3, decoded.Samples.Count);

        var refused = new SenderRights(new()).Apply(decoded, Named(new() { User = "air", Channels = ["air_pressure"] }));

        Assert.Equal("air may not publish every channel in it", refused);
        Assert.Equal(Channel.AirPressure, Assert.Single(decoded.Samples).Channel);
    }

    [Fact]
    public void What_an_outside_broker_lets_through_is_taken_as_it_is()
    {
        var decoded = Decode("laserwatch/bay1/air_pressure", """[{"n":"air_pressure","v":200},{"n":"coolant_in","v":20}]""");

        Assert.Null(new SenderRights(new()).Apply(decoded, null));
        Assert.Equal(2, decoded.Samples.Count);
    }

    [Fact]
    public async Task The_alarm_bears_the_name_of_who_logged_in_and_a_refused_command_is_counted()
    {
        await using var bench = new PipelineBench();
        bench.Send(0, "bay1/job", """{"event":"start","job":"birch-6-cut"}""");
        bench.Cut(0, 20, 150);
        Command(20, """{"do":"acknowledge","condition":"air-pressure-low","by":"ben"}""");
        bench.Tick(25);
        await bench.SettleAsync();

        var change = bench.Announced.Last(c => c.Condition == "air-pressure-low");
        Assert.Equal((AlarmState.Acknowledged, "ana (claims: ben)"), (change.State, change.By));

        void Command(double second, string payload) => bench.Send(new RawMessage(
            "laserwatch/bay1/command", Encoding.UTF8.GetBytes(payload), PipelineBench.At(second), "embedded/ana/x", 0, false, false, null,
            Named(new() { User = "ana", MayCommand = true })));
    }

    private static (string? By, string? Refused) Command(string? user, string claim, params string[] listed)
    {
        var decoded = Decode("laserwatch/bay1/command", $$"""{"do":"acknowledge","condition":"coolant-hot","by":"{{claim}}"}""");
        var refused = new SenderRights(new() { By = listed }).Apply(decoded, user is null ? null : Named(new() { User = user, MayCommand = true }));
        return (decoded.Command?.By, refused);
    }

    private static ClientRights Named(ConfiguredClient client) => ClientRights.Of(client, new Topics("laserwatch"), []);

    private static DecodedMessage Decode(string topic, string payload)
    {
        var decoded = new DecodedMessage();
        new MessageDecoder(PayloadOptions.Default, [], [], new ChannelTable()).Decode(topic, Encoding.UTF8.GetBytes(payload), Now, decoded);
        return decoded;
    }
}
