using System.Text;
using CsCheck;
using LaserWatch.Calibration;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

public class MessageDecoderTests
{
    private static readonly Instant Arrival = Instant.From(new(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));
    private static readonly Instant QuarterLater = new(Arrival.UnixNanoseconds + 250_000_000);

    [Theory]
    [InlineData("182.4", 182.4)]
    [InlineData(" 182.4\r\n", 182.4)]
    [InlineData("\uFEFF182.4", 182.4)]
    [InlineData("-0.5", -0.5)]
    [InlineData("+5", 5)]
    [InlineData("1.824e2", 182.4)]
    [InlineData("1824E-1", 182.4)]
    [InlineData(".5", 0.5)]
    [InlineData("5.", 5)]
    [InlineData("\"182.4\"", 182.4)]
    [InlineData("""{"value":182.4}""", 182.4)]
    [InlineData("""{"value":"182.4"}""", 182.4)]
    [InlineData("""{"unit":"kPa","inner":{"value":3},"value":182.4,"more":[1,2]}""", 182.4)]
    [InlineData("""{"value":182.4,"time":null}""", 182.4)]
    public void A_number_bare_or_in_JSON_is_a_sample_at_arrival(string payload, double value)
    {
        var message = Decode("laserwatch/bay1/air_pressure", payload);

        AssertSamples(message, "bay1", new Sample(Channel.AirPressure, Arrival, value));
    }

    [Theory]
    [InlineData("\"2026-03-09T08:00:00.250Z\"")]
    [InlineData("\"2026-03-09T09:00:00.250+01:00\"")]
    [InlineData("\"2026-03-09T08:00:00.250\\u005A\"")]
    [InlineData("1773043200.25")]
    [InlineData("1773043200250")]
    [InlineData("1773043200250000")]
    [InlineData("1773043200250000000")]
    [InlineData("\"1773043200.25\"")]
    public void The_sensors_own_time_is_taken(string time)
    {
        var message = Decode("laserwatch/bay1/air_pressure", $$"""{"time":{{time}},"value":182.4}""");

        AssertSamples(message, "bay1", new Sample(Channel.AirPressure, QuarterLater, 182.4));
    }

    [Theory]
    [InlineData("12.5")]
    [InlineData("4000000000")]
    [InlineData("1e300")]
    [InlineData("\"1999-01-01T00:00:00Z\"")]
    [InlineData("\"9999-01-01T00:00:00Z\"")]
    public void A_time_that_cannot_be_leaves_the_sample_at_arrival_and_is_counted(string time)
    {
        var message = Decode("laserwatch/bay1/air_pressure", $$"""{"value":182.4,"time":{{time}}}""");

        Assert.Equal([new Sample(Channel.AirPressure, Arrival, 182.4)], message.Samples);
        Assert.Equal((Rejection.None, 1), (message.Rejection, message.SkewedTimes));
    }

    [Theory]
    [InlineData("\"8 o'clock\"")]
    [InlineData("\"2026-03-09T08:00:00\"")]
    [InlineData("true")]
    [InlineData("{}")]
    [InlineData("[1]")]
    public void A_time_that_cannot_be_read_rejects_the_sample(string time)
    {
        var message = Decode("laserwatch/bay1/air_pressure", $$"""{"value":182.4,"time":{{time}}}""");

        AssertRejected(message, Rejection.MalformedTime);
        Assert.StartsWith("/time is neither RFC 3339 with an offset nor a number since 1970", message.RejectionDetail, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("", Rejection.ValueMissing)]
    [InlineData("  ", Rejection.ValueMissing)]
    [InlineData("182,4", Rejection.NotANumber)]
    [InlineData("182.4 kPa", Rejection.NotANumber)]
    [InlineData("182.4;", Rejection.NotANumber)]
    [InlineData("0x1F", Rejection.NotANumber)]
    [InlineData("true", Rejection.NotANumber)]
    [InlineData("on", Rejection.NotANumber)]
    [InlineData("null", Rejection.NotANumber)]
    [InlineData("-", Rejection.NotANumber)]
    [InlineData("1e", Rejection.NotANumber)]
    [InlineData("NaN", Rejection.NotFinite)]
    [InlineData("nan", Rejection.NotFinite)]
    [InlineData("-Infinity", Rejection.NotFinite)]
    [InlineData("inf", Rejection.NotFinite)]
    [InlineData("1e999", Rejection.NotFinite)]
    [InlineData("-1e999", Rejection.NotFinite)]
    [InlineData("""{"value":1e999}""", Rejection.NotFinite)]
    [InlineData("""{"value":"NaN"}""", Rejection.NotFinite)]
    [InlineData("""{"value":NaN}""", Rejection.MalformedJson)]
    [InlineData("""{"value":true}""", Rejection.NotANumber)]
    [InlineData("""{"value":"high"}""", Rejection.NotANumber)]
    [InlineData("""{"value":null}""", Rejection.ValueMissing)]
    [InlineData("""{"value":{"x":1}}""", Rejection.ValueMissing)]
    [InlineData("""{"temperature":21}""", Rejection.ValueMissing)]
    [InlineData("{}", Rejection.ValueMissing)]
    [InlineData("""{"value":182.4""", Rejection.MalformedJson)]
    [InlineData("""{"value":182.4}}""", Rejection.MalformedJson)]
    [InlineData("""{"value":182.4,}""", Rejection.MalformedJson)]
    [InlineData("""{'value':182.4}""", Rejection.MalformedJson)]
    [InlineData("""{"value":"\ud800"}""", Rejection.MalformedJson)]
    [InlineData("[1,2]", Rejection.MalformedSenml)]
    [InlineData("[]", Rejection.ValueMissing)]
    public void What_is_no_number_is_rejected_for_what_it_is(string payload, Rejection reason) =>
        AssertRejected(Decode("laserwatch/bay1/air_pressure", payload), reason);

    [Theory]
    [InlineData("1", 1)]
    [InlineData("0", 0)]
    [InlineData("true", 1)]
    [InlineData("false", 0)]
    [InlineData("ON", 1)]
    [InlineData("off", 0)]
    [InlineData("\"ON\"", 1)]
    [InlineData("""{"value":true}""", 1)]
    [InlineData("""{"value":"OFF"}""", 0)]
    public void A_channel_without_unit_takes_on_and_off(string payload, double value) =>
        AssertSamples(Decode("laserwatch/bay1/lasing", payload), "bay1", new Sample(Channel.Lasing, Arrival, value));

    [Fact]
    public void A_payload_over_the_limit_is_not_looked_at()
    {
        var message = Decode("laserwatch/bay1/air_pressure", new string(' ', 65_536) + "1");

        AssertRejected(message, Rejection.PayloadTooLarge);
        Assert.Equal("65537 bytes, at most 65536 are taken", message.RejectionDetail);
    }

    [Theory]
    [InlineData(new byte[] { 0xff, 0xfe })]
    [InlineData(new byte[] { (byte)'1', 0xc3 })]
    [InlineData(new byte[] { (byte)'{', (byte)'"', 0xed, 0xa0, 0x80, (byte)'"', (byte)':', (byte)'1', (byte)'}' })]
    public void Bytes_that_are_not_UTF_8_are_rejected(byte[] payload)
    {
        var message = new DecodedMessage();
        Decoder().Decode("laserwatch/bay1/air_pressure", payload, Arrival, message);
        AssertRejected(message, Rejection.NotUtf8);
    }

    [Fact]
    public void JSON_nested_too_deeply_is_rejected() =>
        AssertRejected(Decode("laserwatch/bay1/x", "{\"a\":" + new string('[', 20_000) + new string(']', 20_000) + ",\"value\":1}"), Rejection.MalformedJson);

    [Theory]
    [InlineData("laserwatch/bay1/alarm/air-pressure-low")]
    [InlineData("laserwatch/bay1/status")]
    [InlineData("laserwatch/status")]
    public void What_the_agent_itself_says_is_passed_over(string topic)
    {
        var message = Decode(topic, """{"state":"normal"}""");

        Assert.Equal((Rejection.None, 0, null), (message.Rejection, message.Samples.Count, message.Machine));
    }

    [Theory]
    [InlineData("other/bay1/air_pressure", Rejection.UnknownTopic)]
    [InlineData("laserwatch", Rejection.UnknownTopic)]
    [InlineData("laserwatch/bay1", Rejection.UnknownTopic)]
    [InlineData("laserwatch/bay1/a/b", Rejection.UnknownTopic)]
    [InlineData("laserwatch/Bay1/air_pressure", Rejection.UnknownMachine)]
    [InlineData("laserwatch//air_pressure", Rejection.UnknownMachine)]
    [InlineData("laserwatch/bay1/", Rejection.UnknownChannel)]
    [InlineData("laserwatch/bay1/air pressure", Rejection.UnknownChannel)]
    public void A_topic_that_tells_no_machine_or_channel_is_rejected(string topic, Rejection reason) =>
        AssertRejected(Decode(topic, "1"), reason);

    [Fact]
    public void A_channel_that_is_not_canonical_is_met_at_its_first_good_value()
    {
        var channels = new ChannelTable();
        var decoder = new MessageDecoder(PayloadOptions.Default, [], [], channels);
        var message = new DecodedMessage();

        decoder.Decode("laserwatch/bay1/lens_temp", "garbage"u8, Arrival, message);
        Assert.False(channels.TryFind("lens_temp", out _));

        decoder.Decode("laserwatch/bay1/lens_temp", "41.5"u8, Arrival, message);
        Assert.True(channels.TryFind("lens_temp", out var met));
        Assert.Equal([new Sample(met, Arrival, 41.5)], message.Samples);
    }

    [Fact]
    public void Channels_beyond_what_can_be_kept_are_rejected_and_the_known_ones_go_on()
    {
        var decoder = Decoder();
        var message = new DecodedMessage();
        for (var i = 0; i <= ChannelTable.MostOthers; i++)
            decoder.Decode($"laserwatch/bay1/x{i}", "1"u8, Arrival, message);

        AssertRejected(message, Rejection.TooManyChannels);
        decoder.Decode("laserwatch/bay1/x0", "1"u8, Arrival, message);
        Assert.Single(message.Samples);
    }

    [Fact]
    public void Unknown_machines_are_taken_unless_only_configured_ones_may_speak()
    {
        var strict = new MessageDecoder(PayloadOptions.Default with { OnlyConfiguredMachines = true }, [], ["bay1"], new ChannelTable());
        var message = new DecodedMessage();

        strict.Decode("laserwatch/bay2/air_pressure", "1"u8, Arrival, message);
        AssertRejected(message, Rejection.UnknownMachine);
        strict.Decode("laserwatch/bay1/air_pressure", "1"u8, Arrival, message);
        Assert.Single(message.Samples);
        Assert.Single(Decode("laserwatch/bay2/air_pressure", "1").Samples);
    }

    [Fact]
    public void Another_root_moves_all_topics_of_its_own()
    {
        var decoder = new MessageDecoder(PayloadOptions.Default with { Root = "shop/lw" }, [], [], new ChannelTable());
        var message = new DecodedMessage();

        decoder.Decode("shop/lw/bay1/air_pressure", "210"u8, Arrival, message);
        AssertSamples(message, "bay1", new Sample(Channel.AirPressure, Arrival, 210));
        decoder.Decode("shop/lw/bay1/alarm/coolant-hot", "{}"u8, Arrival, message);
        Assert.Equal(Rejection.None, message.Rejection);
        decoder.Decode("laserwatch/bay1/air_pressure", "210"u8, Arrival, message);
        AssertRejected(message, Rejection.UnknownTopic);
    }

    [Fact]
    public void A_rule_for_one_of_its_own_topics_converts_its_unit()
    {
        var message = Decode("laserwatch/bay1/air_pressure", "2.1", new TopicRule { Topic = "laserwatch/+/air_pressure", Unit = "bar" });

        AssertSamples(message, "bay1", new Sample(Channel.AirPressure, Arrival, 210));
    }

    [Fact]
    public void Rules_take_several_values_and_their_time_out_of_other_JSON()
    {
        TopicRule[] rules =
        [
            new() { Topic = "zig/chiller", Machine = "bay1", Channel = "coolant_in", ValuePointer = "/sensors/0/t", TimePointer = "/at", Unit = "F" },
            new() { Topic = "zig/chiller", Machine = "bay1", Channel = "coolant_out", ValuePointer = "/sensors/1/t" },
            new() { Topic = "zig/#", Machine = "bay1", Channel = "coolant_flow", ValuePointer = "/flow", MayBeMissing = true },
        ];

        var message = Decode("zig/chiller", """{"at":1773043200.25,"time":"no time","sensors":[{"t":-40},{"t":"22.5"}]}""", rules);

        AssertSamples(message, "bay1", new Sample(Channel.CoolantIn, QuarterLater, -40), new Sample(Channel.CoolantOut, Arrival, 22.5));
    }

    [Fact]
    public void A_good_value_stands_beside_one_that_is_missing()
    {
        TopicRule[] rules =
        [
            new() { Topic = "zig", Machine = "bay1", Channel = "coolant_in", ValuePointer = "/in" },
            new() { Topic = "zig", Machine = "bay1", Channel = "coolant_out", ValuePointer = "/out" },
        ];

        var message = Decode("zig", """{"out":22.5}""", rules);

        Assert.Equal([new Sample(Channel.CoolantOut, Arrival, 22.5)], message.Samples);
        Assert.Equal((Rejection.ValueMissing, "nothing at /in"), (message.Rejection, message.RejectionDetail));
        AssertRejected(Decode("zig", "5", rules), Rejection.ValueMissing);
    }

    [Fact]
    public void A_time_that_a_rule_promises_and_a_message_lacks_is_counted()
    {
        var message = Decode("z", """{"v":1}""", new TopicRule { Topic = "z", Machine = "bay1", Channel = "coolant_in", ValuePointer = "/v", TimePointer = "/t" });

        Assert.Equal([new Sample(Channel.CoolantIn, Arrival, 1)], message.Samples);
        Assert.Equal((Rejection.None, 1), (message.Rejection, message.SkewedTimes));
    }

    [Fact]
    public void Of_two_rules_for_a_channel_the_first_counts()
    {
        var message = Decode(
            "z", "2", new TopicRule { Topic = "z", Machine = "bay1", Channel = "air_pressure", Unit = "bar" },
            new TopicRule { Topic = "#", Machine = "bay1", Channel = "air_pressure", Unit = "psi" });

        AssertSamples(message, "bay1", new Sample(Channel.AirPressure, Arrival, 200));
    }

    [Fact]
    public void A_sensor_that_machines_share_has_a_part_for_each()
    {
        var decoder = Decoder(
            new TopicRule { Topic = "room", Machine = "bay1", Channel = "ambient_temperature", ValuePointer = "/t" },
            new TopicRule { Topic = "room", Machine = "bay2", Channel = "ambient_temperature", ValuePointer = "/t" },
            new TopicRule { Topic = "room", Machine = "bay2", Channel = "ambient_humidity", ValuePointer = "/rh" });
        var message = new DecodedMessage();
        var payload = """{"t":21.5,"rh":45}"""u8.ToArray();

        Assert.Equal(2, decoder.Decode("room", payload, Arrival, message));
        AssertSamples(message, "bay1", new Sample(Channel.AmbientTemperature, Arrival, 21.5));
        Assert.Equal(2, decoder.Decode("room", payload, Arrival, message, part: 1));
        AssertSamples(message, "bay2", new Sample(Channel.AmbientTemperature, Arrival, 21.5), new Sample(Channel.AmbientHumidity, Arrival, 45));
        Assert.Throws<ArgumentOutOfRangeException>(() => decoder.Decode("room", payload, Arrival, message, part: 2));
        Assert.Equal(1, decoder.Decode("laserwatch/bay1/coolant_in", "1"u8, Arrival, message));
    }

    [Fact]
    public void A_rule_that_tells_no_channel_takes_no_bare_number()
    {
        var message = Decode("z", "2", new TopicRule { Topic = "z", Machine = "bay1" });

        AssertRejected(message, Rejection.UnknownChannel);
        Assert.Equal("nothing tells the channel of this topic: name it in the rule", message.RejectionDetail);
    }

    [Fact]
    public void A_wide_rule_whose_unit_does_not_fit_says_what_would()
    {
        var message = Decode("laserwatch/bay1/coolant_in", "2", new TopicRule { Topic = "laserwatch/+/+", Unit = "bar" });

        AssertRejected(message, Rejection.UnitUnknown);
        Assert.StartsWith("unit 'bar' is not known for coolant_in (°C): use one of °C, ", message.RejectionDetail, StringComparison.Ordinal);
    }

    [Fact]
    public void Counts_of_a_thermistor_on_a_divider_become_degrees()
    {
        var rule = new TopicRule
        {
            Topic = "laserwatch/bay1/coolant_in", Calibration = [new DividerStep { RawAtSupply = 1024 }, new NtcBetaStep()],
        };

        var message = Decode("laserwatch/bay1/coolant_in", "512", rule);

        Assert.Equal(25, Assert.Single(message.Samples).Value, 1e-9);
    }

    [Fact]
    public void A_clamps_volts_become_milliamperes_without_naming_a_unit()
    {
        var rule = new TopicRule { Topic = "laserwatch/bay1/tube_current", Calibration = [new CurrentClampStep { Ratio = 1, BurdenOhms = 100 }] };

        Assert.Equal(18.2, Assert.Single(Decode("laserwatch/bay1/tube_current", "1.82", rule).Samples).Value, 1e-9);
    }

    [Theory]
    [InlineData("12", Rejection.None, false)]
    [InlineData("3.7", Rejection.CalibrationFault, false)]
    [InlineData("3.5", Rejection.CalibrationFault, true)]
    [InlineData("22", Rejection.CalibrationFault, true)]
    public void A_loops_failure_signal_names_the_channel_whose_sensor_failed(string milliamps, Rejection reason, bool failed)
    {
        var rule = new TopicRule
        {
            Topic = "laserwatch/bay1/air_pressure", Unit = "bar", Calibration = [new CurrentLoopStep { ValueAt20Milliamps = 10 }],
        };

        var message = Decode("laserwatch/bay1/air_pressure", milliamps, rule);

        Assert.Equal((reason, failed ? Channel.AirPressure : null), (message.Rejection, message.FailedSensor));
        Assert.Equal(reason == Rejection.None ? [new Sample(Channel.AirPressure, Arrival, 500)] : [], message.Samples);
    }

    [Fact]
    public void A_rule_with_a_mistake_does_not_start()
    {
        var exception = Assert.Throws<ArgumentException>(() => Decoder(new TopicRule { Topic = "a/b#", Machine = "bay1" }));

        Assert.StartsWith("The rule for topic 'a/b#' cannot be used: topic 'a/b#': '+' and '#' must stand alone", exception.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void More_topics_than_can_be_remembered_are_still_understood()
    {
        var decoder = new MessageDecoder(PayloadOptions.Default with { MostTopics = 16 }, [], [], new ChannelTable());
        var message = new DecodedMessage();
        for (var i = 0; i < 100; i++)
        {
            decoder.Decode($"laserwatch/bay{i}/air_pressure", "1"u8, Arrival, message);
            AssertSamples(message, $"bay{i}", new Sample(Channel.AirPressure, Arrival, 1));
        }
    }

    [Fact]
    public void Good_samples_of_known_topics_allocate_nothing()
    {
        var decoder = Decoder(new TopicRule { Topic = "laserwatch/+/coolant_in", Calibration = [new DividerStep(), new NtcBetaStep()] });
        var message = new DecodedMessage();
        (string Topic, byte[] Payload)[] messages =
        [
            ("laserwatch/bay1/air_pressure", "182.4"u8.ToArray()),
            ("laserwatch/bay1/air_pressure", """{"value":182.4,"time":"2026-03-09T08:00:00.250Z"}"""u8.ToArray()),
            ("laserwatch/bay1/air_pressure", """{"value":182.4,"time":1773043200.25}"""u8.ToArray()),
            ("laserwatch/bay1/coolant_in", "500"u8.ToArray()),
            ("laserwatch/bay1/pack", """[{"bn":"urn:dev:x:","bt":1773043200,"n":"coolant_out","u":"K","v":295.15},{"n":"air_pressure","u":"bar","v":2.1}]"""u8.ToArray()),
        ];

        // Twice: code may be made anew in the middle of the first measurement.
        var allocated = long.MaxValue;
        for (var attempt = 0; attempt < 5 && allocated != 0; attempt++)
        {
            for (var i = 0; i < 2000; i++)
                decoder.Decode(messages[i % messages.Length].Topic, messages[i % messages.Length].Payload, Arrival, message);
            var before = GC.GetAllocatedBytesForCurrentThread();
            for (var i = 0; i < 10_000; i++)
                decoder.Decode(messages[i % messages.Length].Topic, messages[i % messages.Length].Payload, Arrival, message);
            allocated = GC.GetAllocatedBytesForCurrentThread() - before;
        }

        Assert.Equal(0, allocated);
        Assert.Equal(2, message.Samples.Count);
    }

    [Fact]
    public void No_bytes_on_any_topic_make_it_throw() =>
        Gen.Select(OneOf(AnyTopics), Gen.Byte.Array[0, 200]).Sample((topic, payload) => AssertSound(topic, payload), iter: 20_000);

    [Fact]
    public void Good_payloads_with_bytes_changed_cut_or_doubled_never_make_it_throw()
    {
        var mutation = Gen.Select(Gen.Int[0, 3], Gen.Int[0, 10_000], Gen.OneOf(Gen.Byte, OneOf("{}[]\",:\\u_-+.eE0123456789 tfn"u8.ToArray())));
        Gen.Select(OneOf(AnyTopics), OneOf(GoodPayloads), mutation.Array[0, 8]).Sample((topic, good, mutations) =>
        {
            var bytes = Encoding.UTF8.GetBytes(good).ToList();
            foreach (var (kind, where, with) in mutations)
            {
                var at = bytes.Count == 0 ? 0 : where % bytes.Count;
                if (kind == 0 || bytes.Count == 0)
                    bytes.Insert(at, with);
                else if (kind == 1)
                    bytes[at] = with;
                else if (kind == 2)
                    bytes.RemoveAt(at);
                else
                    bytes.RemoveRange(at, Math.Min(bytes.Count - at, 1 + (where % 7)));
            }

            AssertSound(topic, [.. bytes]);
        }, iter: 30_000);
    }

    [Fact]
    public void A_message_cut_short_gives_no_sample()
    {
        foreach (var good in GoodPayloads.Where(payload => payload[0] is '{' or '['))
        {
            var whole = Encoding.UTF8.GetBytes(good);
            for (var length = 0; length < whole.Length; length++)
            {
                var message = new DecodedMessage();
                Decoder().Decode("laserwatch/bay1/coolant_in", whole.AsSpan(0, length), Arrival, message);
                Assert.Empty(message.Samples);
                Assert.NotEqual(Rejection.None, message.Rejection);
            }
        }
    }

    internal static readonly string[] AnyTopics =
    [
        "laserwatch/bay1/air_pressure", "laserwatch/bay1/lasing", "laserwatch/bay1/job", "laserwatch/bay1/service", "laserwatch/bay1/command",
        "laserwatch/bay1/pack", "laserwatch/bay1/coolant_in", "z/pointed", "z/calibrated", "nowhere",
    ];

    private static readonly TopicRule[] AnyRules =
    [
        new() { Topic = "z/pointed", Machine = "bay1", Channel = "coolant_in", ValuePointer = "/a/0/t", TimePointer = "/time" },
        new() { Topic = "z/calibrated", Machine = "bay1", Channel = "air_pressure", Unit = "bar", Calibration = [new CurrentLoopStep { ValueAt20Milliamps = 10 }] },
    ];

    internal static readonly string[] GoodPayloads =
    [
        "182.4", """{"value":182.4,"time":"2026-03-09T08:00:00.250Z"}""", """{"value":"12.5","time":1773043200250}""",
        """{"a":[{"t":21.5}],"time":"2026-03-09T08:00:00Z"}""",
        """[{"bn":"urn:dev:x:","bt":1773043200,"bu":"Cel","bver":5,"n":"coolant_in","v":21.5},{"n":"coolant_out","u":"K","v":295.15,"t":-2}]""",
        """[{"n":"air_pressure","u":"bar","v":2.1},{"n":"open","vb":true},{"n":"label","vs":"caf\u00e9"}]""",
        """{"event":"start","job":"birch-6-cut","time":"2026-03-09T08:00:00Z"}""",
        """{"part":"tube","action":"replaced","serial":"T-1","note":"\ud83d\ude00","power":80,"x":[1,{}]}""",
        """{"do":"shelve","condition":"air-pressure-low","by":"ann","for":"PT30M","why":"test"}""",
    ];

    private static Gen<T> OneOf<T>(T[] choices) => Gen.Int[0, choices.Length - 1].Select(i => choices[i]);

    internal static void AssertSound(string topic, byte[] payload)
    {
        var message = new DecodedMessage();
        Decoder(AnyRules).Decode(topic, payload, Arrival, message);
        Assert.All(message.Samples, sample => Assert.True(double.IsFinite(sample.Value)));
        Assert.Equal(
            message.Rejection == Rejection.None,
            message.RejectionDetail is null);
        var isSomething = message.Samples.Count > 0 || message.Job is not null || message.Service is not null || message.Command is not null;
        Assert.True(isSomething || message.Rejection != Rejection.None);
        Assert.DoesNotContain(message.RejectionDetail ?? "", char.IsControl);
    }

    private static MessageDecoder Decoder(params TopicRule[] rules) => new(PayloadOptions.Default, rules, [], new ChannelTable());

    private static DecodedMessage Decode(string topic, string payload, params TopicRule[] rules)
    {
        var message = new DecodedMessage();
        Decoder(rules).Decode(topic, Encoding.UTF8.GetBytes(payload), Arrival, message);
        return message;
    }

    private static void AssertSamples(DecodedMessage message, string machine, params Sample[] samples)
    {
        Assert.Equal((machine, Rejection.None, null, 0), (message.Machine, message.Rejection, message.RejectionDetail, message.SkewedTimes));
        Assert.Equal(samples, message.Samples);
    }

    private static void AssertRejected(DecodedMessage message, Rejection reason)
    {
        Assert.Equal(reason, message.Rejection);
        Assert.NotNull(message.RejectionDetail);
        Assert.Empty(message.Samples);
    }
}
