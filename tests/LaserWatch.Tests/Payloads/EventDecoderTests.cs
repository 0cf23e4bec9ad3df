using System.Text;
using LaserWatch.Alarms;
using LaserWatch.Jobs;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

public class EventDecoderTests
{
    private static readonly Instant Arrival = Instant.From(new(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    [Theory]
    [InlineData("""{"event":"start","job":"birch-6-cut"}""", JobEventKind.Start, "birch-6-cut", 0)]
    [InlineData("""{"event":"end"}""", JobEventKind.End, null, 0)]
    [InlineData("""{"event":"start"}""", JobEventKind.Start, null, 0)]
    [InlineData("""{"event":"end","job":null,"operator":"ann"}""", JobEventKind.End, null, 0)]
    [InlineData("""{"job":417,"event":"start"}""", JobEventKind.Start, "417", 0)]
    [InlineData("""{"event":"start","job":" birch\u0007 "}""", JobEventKind.Start, "birch\uFFFD", 0)]
    [InlineData("""{"event":"end","time":"2026-03-09T07:59:30Z"}""", JobEventKind.End, null, -30)]
    [InlineData("""{"event":"end","time":1773043170}""", JobEventKind.End, null, -30)]
    public void Job_events_begin_and_end_runs(string payload, JobEventKind kind, string? job, int seconds)
    {
        var message = Decode("job", payload);

        Assert.Equal(new JobEvent("bay1", Arrival + TimeSpan.FromSeconds(seconds), kind, job), message.Job);
        Assert.Equal((Rejection.None, 0, "bay1"), (message.Rejection, message.SkewedTimes, message.Machine));
    }

    [Theory]
    [InlineData("""{"job":"birch-6-cut"}""", "event is missing: give start or end")]
    [InlineData("""{"event":"pause"}""", "event is 'pause': use start or end")]
    [InlineData("""{"event":"Start"}""", "event is 'Start': use start or end")]
    [InlineData("""{"event":"start","job":""}""", "job is empty")]
    [InlineData("""[1]""", "the event is no JSON object")]
    [InlineData("182", "the event is no JSON object")]
    [InlineData("", "the payload is empty")]
    public void A_job_event_that_does_not_say_what_it_must_is_named(string payload, string detail)
    {
        var message = Decode("job", payload);

        Assert.Equal((Rejection.MalformedEvent, detail, null), (message.Rejection, message.RejectionDetail, message.Job));
    }

    [Fact]
    public void A_name_too_long_is_refused_and_one_just_fitting_is_not()
    {
        Assert.Equal("job is longer than 256 characters", Decode("job", $$"""{"event":"start","job":"{{new string('x', 257)}}"}""").RejectionDetail);
        Assert.Equal(new string('x', 256), Decode("job", $$"""{"event":"start","job":"{{new string('x', 256)}}"}""").Job!.Job);
    }

    [Theory]
    [InlineData("start", Rejection.MalformedJson)]
    [InlineData("""{"event":"start" """, Rejection.MalformedJson)]
    [InlineData("""{"event":"start","job":"\udc00"}""", Rejection.MalformedJson)]
    [InlineData("""{"event":"start","time":"today"}""", Rejection.MalformedTime)]
    public void A_message_that_cannot_be_read_is_no_event(string payload, Rejection reason)
    {
        var message = Decode("job", payload);

        Assert.Equal((reason, null), (message.Rejection, message.Job));
    }

    [Fact]
    public void A_time_that_cannot_be_leaves_the_event_at_arrival_and_is_counted()
    {
        var message = Decode("job", """{"event":"end","time":17}""");

        Assert.Equal((new JobEvent("bay1", Arrival, JobEventKind.End, null), 1), (message.Job!, message.SkewedTimes));
    }

    [Fact]
    public void A_service_event_keeps_the_fields_nobody_knows()
    {
        var message = Decode(
            "service",
            """{"part":"tube","action":"replaced","serial":"T-000001","note":"second\nhand","rated_ma":21.5,"warranty":true,"gone":null,"who":{"name":"ann"}}""");

        var service = message.Service!;
        Assert.Equal(
            new ServiceEvent("bay1", Arrival, "tube", "replaced", "T-000001", "second\uFFFDhand", ServiceEvent.NoDetails),
            service with { Details = ServiceEvent.NoDetails });
        Assert.Equal(
            new Dictionary<string, string> { ["rated_ma"] = "21.5", ["warranty"] = "true", ["who"] = """{"name":"ann"}""" }, service.Details);
    }

    [Fact]
    public void An_annotation_stands_where_its_span_begins_however_long_ago_that_is()
    {
        var message = Decode(
            "service", """{"time":"2001-01-01T00:00:00Z","part":"annotation","action":"faulty","id":"1","from":"2001-01-01T00:00:00Z","to":"2001-01-02T00:00:00Z"}""");

        Assert.Equal(Instant.From(new DateTimeOffset(2001, 1, 1, 0, 0, 0, TimeSpan.Zero)), message.Service!.At);
        Assert.Equal(0, message.SkewedTimes);
        Assert.Equal(
            "from is 'soon': give the annotated span's begin, such as 2026-03-09T08:00:00Z",
            Decode("service", """{"part":"annotation","action":"faulty","id":"1","from":"soon","to":"2001-01-02T00:00:00Z"}""").RejectionDetail);
    }

    [Fact]
    public void A_service_event_needs_only_part_and_action()
    {
        var service = Decode("service", """{"part":"water-trap","action":"drained"}""").Service!;

        Assert.Equal(new ServiceEvent("bay1", Arrival, "water-trap", "drained", null, null, ServiceEvent.NoDetails), service);
        Assert.Equal("part is missing: give what was served, such as tube", Decode("service", """{"action":"cleaned"}""").RejectionDetail);
        Assert.Equal("action is missing: give what was done, such as replaced", Decode("service", """{"part":"lens"}""").RejectionDetail);
    }

    [Fact]
    public void A_long_note_is_cut_and_shows_it_so_that_the_event_is_not_lost()
    {
        var note = Decode("service", $$"""{"part":"tube","action":"replaced","note":"{{new string('x', 300)}}"}""").Service!.Note!;

        Assert.Equal(new string('x', 255) + "…", note);
    }

    [Fact]
    public void An_event_with_a_flood_of_fields_is_refused()
    {
        var fields = string.Join(",", Enumerable.Range(0, 50).Select(i => $"\"f{i}\":{i}"));

        Assert.Equal("the event has more than 40 fields", Decode("service", $$"""{"part":"tube","action":"replaced",{{fields}}}""").RejectionDetail);
    }

    [Theory]
    [InlineData("acknowledge", AlarmCommandKind.Acknowledge)]
    [InlineData("unshelve", AlarmCommandKind.Unshelve)]
    [InlineData("out-of-service", AlarmCommandKind.OutOfService)]
    [InlineData("in-service", AlarmCommandKind.InService)]
    public void Commands_name_a_condition_and_who_asks(string name, AlarmCommandKind kind)
    {
        var message = Decode("command", $$"""{"do":"{{name}}","condition":"air-pressure-low","by":"ann"}""");

        Assert.Equal(new AlarmCommand("bay1", Arrival, kind, "air-pressure-low", "ann"), message.Command);
    }

    [Fact]
    public void Shelving_says_for_how_long_and_may_say_why()
    {
        Assert.Equal(
            new AlarmCommand("bay1", Arrival, AlarmCommandKind.Shelve, "air-pressure-low", "ann", TimeSpan.FromMinutes(30), "new hose"),
            Decode("command", """{"do":"shelve","condition":"air-pressure-low","by":"ann","for":"PT30M","why":"new hose"}""").Command);
        Assert.Equal(
            TimeSpan.FromDays(30), Decode("command", """{"do":"shelve","condition":"coolant-hot","by":"ann","for":"P30D"}""").Command!.For);
    }

    [Theory]
    [InlineData("""{"condition":"coolant-hot","by":"ann"}""", "do is missing: give acknowledge, shelve, unshelve, out-of-service, in-service or reset")]
    [InlineData("""{"do":"silence","condition":"coolant-hot","by":"ann"}""", "do is 'silence': use acknowledge, shelve, unshelve, out-of-service, in-service or reset")]
    [InlineData("""{"do":"acknowledge","by":"ann"}""", "condition is missing: give the alarm's condition, such as air-pressure-low")]
    [InlineData("""{"do":"acknowledge","condition":"Coolant Hot","by":"ann"}""", "condition 'Coolant Hot' is no condition: use a-z, 0-9 and '-'")]
    [InlineData("""{"do":"acknowledge","condition":"coolant-hot"}""", "by is missing: give who asks")]
    [InlineData("""{"do":"shelve","condition":"coolant-hot","by":"ann"}""", "for is missing: give how long to shelve, as an ISO 8601 duration such as PT30M")]
    [InlineData("""{"do":"shelve","condition":"coolant-hot","by":"ann","for":"30 min"}""", "for is '30 min': use an ISO 8601 duration such as PT30M")]
    [InlineData("""{"do":"shelve","condition":"coolant-hot","by":"ann","for":"P31D"}""", "for is 'P31D': use more than nothing and at most 30 days")]
    [InlineData("""{"do":"shelve","condition":"coolant-hot","by":"ann","for":"-PT5M"}""", "for is '-PT5M': use more than nothing and at most 30 days")]
    [InlineData("""{"do":"shelve","condition":"coolant-hot","by":"ann","for":"PT0S"}""", "for is 'PT0S': use more than nothing and at most 30 days")]
    [InlineData("""{"do":"shelve","condition":"coolant-hot","by":"ann","for":"P99999999999Y"}""", "for is 'P99999999999Y': use an ISO 8601 duration such as PT30M")]
    public void A_command_that_does_not_say_what_it_must_is_named(string payload, string detail)
    {
        var message = Decode("command", payload);

        Assert.Equal((Rejection.MalformedEvent, detail, null), (message.Rejection, message.RejectionDetail, message.Command));
    }

    private static DecodedMessage Decode(string what, string payload)
    {
        var message = new DecodedMessage();
        new MessageDecoder(PayloadOptions.Default, [], [], new ChannelTable())
            .Decode($"laserwatch/bay1/{what}", Encoding.UTF8.GetBytes(payload), Arrival, message);
        return message;
    }
}
