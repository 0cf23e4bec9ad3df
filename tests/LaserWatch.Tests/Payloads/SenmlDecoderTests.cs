using System.Globalization;
using System.Text;
using CsCheck;
using LaserWatch.Calibration;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>
/// The examples are those of RFC 8428 section 5.1 (read in a public test suite that quotes the section; the wording of the rules from the
/// working group's draft text, read). Arrival is the moment each example speaks of, since the agent believes no time years away from it.
/// </summary>
public class SenmlDecoderTests
{
    private static readonly Instant Now = Instant.From(new(2026, 3, 9, 8, 0, 0, TimeSpan.Zero));

    private readonly ChannelTable _channels = new();

    [Fact]
    public void Example_5_1_1_a_single_data_point_is_the_topics_channel_now()
    {
        const string Pack = """[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]""";

        AssertResolved(Decode("laserwatch/bay1/coolant_in", Pack, Now), "coolant_in 2026-03-09T08:00:00.000Z 23.1");
        AssertResolved(Decode("laserwatch/bay1/pack", Pack, Now), "10e2073a01080063 2026-03-09T08:00:00.000Z 23.1");
        Assert.Equal("Cel", _channels.All[^1].Unit);
    }

    [Fact]
    public void Example_5_1_2_several_data_points_share_a_base_name()
    {
        var rule = new TopicRule { Topic = "plug", Machine = "bay1", Names = new Dictionary<string, string> { ["current"] = "tube_current" } };
        var message = Decode(
            "plug", """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]""", Now, rule);

        AssertResolved(message, "voltage 2026-03-09T08:00:00.000Z 120.1", "tube_current 2026-03-09T08:00:00.000Z 1200");
    }

    [Fact]
    public void Example_5_1_2_with_times_before_the_base_time()
    {
        const string Pack = """
            [{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
             {"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},{"n":"current","t":-2,"v":1.5},
             {"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]
            """;

        AssertResolved(
            Decode("laserwatch/bay1/plug", Pack, Unix(1276020076)), "voltage 2010-06-08T18:01:16.001Z 120.1", "current 2010-06-08T18:01:11.001Z 1.2",
            "current 2010-06-08T18:01:12.001Z 1.3", "current 2010-06-08T18:01:13.001Z 1.4", "current 2010-06-08T18:01:14.001Z 1.5",
            "current 2010-06-08T18:01:15.001Z 1.6", "current 2010-06-08T18:01:16.001Z 1.7");
    }

    private const string MultipleMeasurements = """
        [{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},{"u":"lat","v":60.07965},
         {"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},{"t":120,"v":20.7},
         {"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},{"u":"%EL","t":150,"v":98},{"t":180,"v":21.2},
         {"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]
        """;

    private const string ResolvedData = """
        [{"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067464e+09,"v":20},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067464e+09,"v":24.30621},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067464e+09,"v":60.07965},
         {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067524e+09,"v":20.3},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067524e+09,"v":24.30622},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067524e+09,"v":60.07965},
         {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067584e+09,"v":20.7},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067584e+09,"v":24.30623},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067584e+09,"v":60.07966},
         {"n":"urn:dev:ow:10e2073a01080063","u":"%EL","t":1.320067614e+09,"v":98},
         {"n":"urn:dev:ow:10e2073a01080063","u":"%RH","t":1.320067644e+09,"v":21.2},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lon","t":1.320067644e+09,"v":24.30628},
         {"n":"urn:dev:ow:10e2073a01080063","u":"lat","t":1.320067644e+09,"v":60.07967}]
        """;

    // The RFC tells humidity, position and battery apart by unit alone; a channel has one unit, so it takes the humidity.
    [Theory]
    [InlineData(MultipleMeasurements)]
    [InlineData(ResolvedData)]
    public void Examples_5_1_3_and_5_1_4_are_the_same_measurements_written_short_and_long(string pack)
    {
        var message = Decode("laserwatch/bay1/ambient_humidity", pack, Unix(1320067644));

        Assert.Equal(
            [
                "ambient_humidity 2011-10-31T13:24:24.000Z 20", "ambient_humidity 2011-10-31T13:25:24.000Z 20.3",
                "ambient_humidity 2011-10-31T13:26:24.000Z 20.7", "ambient_humidity 2011-10-31T13:27:24.000Z 21.2",
            ],
            Texts(message));
        Assert.Equal(
            (Rejection.UnitUnknown, "record 2: unit 'lon' is not known for ambient_humidity (%RH): use one of %RH, /, 1, ratio, %, percent"),
            (message.Rejection, message.RejectionDetail));
    }

    [Fact]
    public void Example_5_1_5_text_and_data_are_no_measurements()
    {
        var message = Decode(
            "laserwatch/bay1/box",
            """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},{"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]""",
            Now);

        Assert.Equal(["temp 2026-03-09T08:00:00.000Z 23.1", "open 2026-03-09T08:00:00.000Z 0"], Texts(message));
        Assert.Equal(
            (Rejection.NotANumber, "record 2 ('urn:dev:ow:10e2073a01080063:label') holds text, which is no measurement"),
            (message.Rejection, message.RejectionDetail));
    }

    [Fact]
    public void Example_5_1_6_a_collection_keeps_the_base_time_across_base_names()
    {
        const string Pack = """
            [{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},{"n":"humidity","u":"%RH","v":30},
             {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]
            """;
        var rule = new TopicRule
        {
            Topic = "rooms", Machine = "bay1",
            Names = new Dictionary<string, string>
            {
                ["2001:db8::2/temperature"] = "coolant_in", ["temperature"] = "ambient_temperature", ["2001:db8::1/humidity"] = "ambient_humidity",
            },
        };

        AssertResolved(
            Decode("rooms", Pack, Unix(1320078429), rule), "coolant_in 2011-10-31T16:27:09.000Z 25.2", "humidity 2011-10-31T16:27:09.000Z 30",
            "ambient_temperature 2011-10-31T16:27:09.000Z 12.3", "ambient_humidity 2011-10-31T16:27:09.000Z 67");
    }

    [Fact]
    public void Example_5_1_7_a_record_of_base_fields_only_measures_nothing()
    {
        const string Pack = """
            [{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":23.1},{"n":"heat","u":"/","v":1},{"n":"fan","u":"/","v":0}]
            """;

        AssertResolved(
            Decode("laserwatch/bay1/box", Pack, Now), "temp 2026-03-09T08:00:00.000Z 23.1", "heat 2026-03-09T08:00:00.000Z 1", "fan 2026-03-09T08:00:00.000Z 0");
    }

    [Theory]
    [InlineData(
        """[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":1},{"n":"2001:db8::4","v":1}]""",
        "3 2011-10-31T16:27:09.000Z 1", "4 2011-10-31T16:27:09.000Z 1")]
    [InlineData(
        """[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::4","v":0.5},{"n":"2001:db8::3","t":0.1,"v":0},{"n":"2001:db8::4","t":0.1,"v":0}]""",
        "3 2011-10-31T16:27:09.000Z 0.5", "4 2011-10-31T16:27:09.000Z 0.5", "3 2011-10-31T16:27:09.100Z 0", "4 2011-10-31T16:27:09.100Z 0")]
    public void Examples_5_1_7_of_lights_that_switch_together(string pack, params string[] expected) =>
        AssertResolved(Decode("laserwatch/bay1/lights", pack, Unix(1320078429)), expected);

    [Theory]
    [InlineData("""[{"n":"coolant_in","u":"K","v":295.15}]""", "coolant_in 2026-03-09T08:00:00.000Z 22")]
    [InlineData("""[{"n":"dev1/coolant_in","v":22}]""", "coolant_in 2026-03-09T08:00:00.000Z 22")]
    [InlineData("""[{"bn":"dev1:","bv":20,"n":"coolant_in","v":2}]""", "coolant_in 2026-03-09T08:00:00.000Z 22")]
    [InlineData("""[{"bn":"dev1:","bv":20},{"n":"coolant_in"}]""", "coolant_in 2026-03-09T08:00:00.000Z 20")]
    [InlineData("""[{"v":22,"t":-60,"n":"coolant_in"}]""", "coolant_in 2026-03-09T07:59:00.000Z 22")]
    [InlineData("""[{"n":"coolant_in","v":22,"t":1773043199.5}]""", "coolant_in 2026-03-09T07:59:59.500Z 22")]
    [InlineData("""[{"n":"coolant_in","v":22,"s":5,"ut":10,"unknown":[1,{"v":3}]}]""", "coolant_in 2026-03-09T08:00:00.000Z 22")]
    [InlineData("""[{"bver":10,"bs":3,"n":"coolant_in","v":22},{"bver":10,"n":"power","u":"/","v":0.5}]""", "coolant_in 2026-03-09T08:00:00.000Z 22", "power 2026-03-09T08:00:00.000Z 50")]
    [InlineData("""[{"n":"lasing","vb":true}]""", "lasing 2026-03-09T08:00:00.000Z 1")]
    [InlineData("""[{"\u006e":"coolant_in","v":22}]""", "coolant_in 2026-03-09T08:00:00.000Z 22")]
    [InlineData("""[{"bn":"dev1/coolant_in/","v":22}]""", "coolant_in 2026-03-09T08:00:00.000Z 22")]
    public void Names_units_values_and_times_are_resolved(string pack, params string[] expected) =>
        AssertResolved(Decode("laserwatch/bay1/pack", pack, Now), expected);

    [Theory]
    [InlineData("""[{"bver":11,"n":"coolant_in","v":1}]""", "record 1 is of SenML version 11; known are versions up to 10")]
    [InlineData("""[{"n":"coolant_in","v":1},{"n":"coolant_out","v":1,"must_":1}]""", "record 2 has a label that must be understood and is not: 'must_'")]
    [InlineData("""[{"bver":5,"n":"coolant_in","v":1},{"bver":6,"n":"coolant_in","v":1}]""", "record 2 is of SenML version 6, records before it of version 5")]
    [InlineData("""[{"bver":"5","n":"coolant_in","v":1}]""", "record 1 has no positive whole number as bver")]
    [InlineData("""[{"n":"coolant_in","v":1},5]""", "record 2 is no object; for JSON that is no SenML give a valuePointer")]
    [InlineData("""[{"v":1}]""", "record 1 has no name, neither its own nor a base name")]
    [InlineData("""[{"n":"_x","v":1}]""", "record 1 has a name that begins with neither letter nor digit: '_x'")]
    [InlineData("""[{"n":"a b","v":1}]""", "record 1 has a name with other than A-Z a-z 0-9 - : . / _ in it: 'a b'")]
    [InlineData("""[{"n":"coolant_in","v":1,"vb":true}]""", "record 1 has more than one of v, vs, vb and vd")]
    [InlineData("""[{"n":"coolant_in"}]""", "record 1 has no value")]
    [InlineData("""[{}]""", "record 1 has no value")]
    [InlineData("""[{"bn":5,"v":1}]""", "record 1 has no text as bn")]
    [InlineData("""[{"bt":"now","n":"coolant_in","v":1}]""", "record 1 has no number as bt")]
    [InlineData("""[{"bv":1e999,"n":"coolant_in","v":1}]""", "record 1 has no finite number as bv")]
    public void What_spoils_a_pack_leaves_nothing_of_it(string pack, string detail)
    {
        var message = Decode("laserwatch/bay1/pack", pack, Now);

        Assert.Equal((Rejection.MalformedSenml, detail, "bay1"), (message.Rejection, message.RejectionDetail, message.Machine));
        Assert.Empty(message.Samples);
    }

    [Theory]
    [InlineData("""{"n":"coolant_out","v":null}""", Rejection.ValueMissing)]
    [InlineData("""{"n":"coolant_out","v":"22"}""", Rejection.NotANumber)]
    [InlineData("""{"n":"coolant_out","v":1e999}""", Rejection.NotFinite)]
    [InlineData("""{"n":"coolant_out","vb":true}""", Rejection.NotANumber)]
    [InlineData("""{"n":"coolant_out","u":"bar","v":1}""", Rejection.UnitUnknown)]
    [InlineData("""{"n":"coolant_out","s":100}""", Rejection.ValueMissing)]
    [InlineData("""{"n":"a:","v":1}""", Rejection.None)]
    public void A_record_that_cannot_be_taken_does_not_take_the_others_with_it(string record, Rejection reason)
    {
        var message = Decode("laserwatch/bay1/pack", $$"""[{"n":"coolant_in","v":22},{{record}},{"n":"power","v":60}]""", Now);

        Assert.Equal(reason, message.Rejection);
        Assert.Equal(reason == Rejection.None ? 3 : 2, message.Samples.Count);
        Assert.Equal((Channel.CoolantIn, Channel.Power), (message.Samples[0].Channel, message.Samples[^1].Channel));
    }

    [Fact]
    public void A_time_that_cannot_be_leaves_the_sample_at_arrival_and_is_counted()
    {
        var message = Decode(
            "laserwatch/bay1/pack",
            """[{"n":"coolant_in","v":1,"t":1e300},{"n":"coolant_out","v":1,"t":-1e9},{"n":"power","v":1,"t":300000000},{"n":"lasing","v":1,"t":200000000}]""", Now);

        Assert.All(message.Samples, sample => Assert.Equal(Now, sample.At));
        Assert.Equal((4, 4, Rejection.None), (message.Samples.Count, message.SkewedTimes, message.Rejection));
    }

    [Fact]
    public void A_second_name_never_mixes_into_the_topics_channel()
    {
        AssertResolved(
            Decode("laserwatch/bay1/coolant_in", """[{"bn":"dev:","n":"t1","u":"Cel","v":21},{"n":"t2","u":"Cel","v":22}]""", Now),
            "t1 2026-03-09T08:00:00.000Z 21", "t2 2026-03-09T08:00:00.000Z 22");
        AssertResolved(
            Decode("laserwatch/bay1/coolant_in", """[{"n":"dev:t9","u":"Cel","v":21},{"n":"dev:t9","u":"Cel","t":-1,"v":22}]""", Now),
            "coolant_in 2026-03-09T08:00:00.000Z 21", "coolant_in 2026-03-09T07:59:59.000Z 22");
    }

    [Fact]
    public void The_unit_of_a_record_is_converted_before_steps_that_take_one()
    {
        var rule = new TopicRule
        {
            Topic = "laserwatch/bay1/air_pressure", Unit = "bar", Calibration = [new CurrentLoopStep { ValueAt20Milliamps = 10 }],
        };

        AssertResolved(
            Decode("laserwatch/bay1/air_pressure", """[{"n":"loop","u":"A","v":0.012}]""", Now, rule), "air_pressure 2026-03-09T08:00:00.000Z 500");
        var failed = Decode("laserwatch/bay1/air_pressure", """[{"n":"loop","u":"A","v":0.0035}]""", Now, rule);
        Assert.Equal((Rejection.CalibrationFault, Channel.AirPressure), (failed.Rejection, failed.FailedSensor));
        Assert.Equal(Rejection.UnitUnknown, Decode("laserwatch/bay1/air_pressure", """[{"n":"loop","u":"V","v":1}]""", Now, rule).Rejection);
    }

    [Fact]
    public void A_trim_without_a_unit_of_its_own_works_in_the_unit_of_the_record()
    {
        var rule = new TopicRule { Topic = "laserwatch/bay1/coolant_in", Calibration = [new LinearStep { Raw1 = 0, Value1 = 0.5, Raw2 = 100, Value2 = 100.5 }] };

        var message = Decode("laserwatch/bay1/coolant_in", """[{"n":"probe","u":"K","v":295.15}]""", Now, rule);

        Assert.Equal(22.5, Assert.Single(message.Samples).Value, 1e-9);
    }

    [Fact]
    public void A_channel_met_with_one_unit_takes_no_other()
    {
        Decode("laserwatch/bay1/pack", """[{"n":"pump","u":"1/min","v":2900}]""", Now);

        var message = Decode("laserwatch/bay1/pack", """[{"n":"pump","u":"Hz","v":48}]""", Now);

        Assert.Equal((Rejection.UnitUnknown, 0), (message.Rejection, message.Samples.Count));
    }

    // A model that resolves the way section 4 says it, against packs written with and without base fields.
    [Fact]
    public void Base_fields_and_their_absence_say_the_same() =>
        Gen.Select(Gen.Int[-1000, 0], Gen.Int[-500, 500], Gen.Select(Gen.Int[0, 3], Gen.Int[-400, 400], Gen.Int[-300, 0]).Array[1, 20]).Sample(
            (baseTime, baseValue, records) =>
            {
                string[] names = ["coolant_in", "coolant_out", "power", "ambient_temperature"];
                var shortPack = new StringBuilder($$"""[{"bn":"dev:","bt":{{baseTime}},"bv":{{baseValue}}}""");
                var longPack = new StringBuilder("[");
                foreach (var (name, value, time) in records)
                {
                    shortPack.Append(CultureInfo.InvariantCulture, $$""",{"n":"{{names[name]}}","v":{{value}},"t":{{time}}}""");
                    longPack.Append(CultureInfo.InvariantCulture, $$"""{{(longPack.Length > 1 ? "," : "")}}{"n":"dev:{{names[name]}}","v":{{value + baseValue}},"t":{{time + baseTime}}}""");
                }

                var viaBase = Decode("laserwatch/bay1/pack", shortPack + "]", Now);
                var plain = Decode("laserwatch/bay1/pack", longPack + "]", Now);
                Assert.Equal(records.Length, plain.Samples.Count);
                Assert.Equal(plain.Samples, viaBase.Samples);
                Assert.Equal(
                    records.Select(r => Now + TimeSpan.FromSeconds(baseTime + r.Item3)), plain.Samples.Select(sample => sample.At));
            }, threads: 1);

    private DecodedMessage Decode(string topic, string pack, Instant arrival, params TopicRule[] rules)
    {
        var message = new DecodedMessage();
        new MessageDecoder(PayloadOptions.Default, rules, [], _channels).Decode(topic, Encoding.UTF8.GetBytes(pack), arrival, message);
        return message;
    }

    private static Instant Unix(long seconds) => new(seconds * 1_000_000_000);

    private static IEnumerable<string> Texts(DecodedMessage message) =>
        message.Samples.Select(sample => string.Create(CultureInfo.InvariantCulture, $"{sample.Channel} {sample.At} {Math.Round(sample.Value, 9)}"));

    private static void AssertResolved(DecodedMessage message, params string[] samples)
    {
        Assert.Equal((Rejection.None, null, 0), (message.Rejection, message.RejectionDetail, message.SkewedTimes));
        Assert.Equal(samples, Texts(message));
    }
}
