using System.Buffers;
using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Telemetry;
using LaserWatch.Trends;
using static LaserWatch.Cli.JsonParts;

namespace LaserWatch.Cli;

/// <summary>Trends as one JSON object, for scripts.</summary>
/// <remarks>
/// <c>{"machine","channel","trends":[…]}</c>, one trend, or one a tube with <c>--tube all</c>, oldest first. Each has
/// <list type="bullet">
/// <item><c>what</c> (words), <c>unit</c> (<c>ratio</c> for a tube's health, else the channel's), <c>power</c> (%; null: pooled), <c>baseline_ma</c> (at that power),
/// <c>tube</c> (<c>number, serial, installed, removed, beam_hours</c>; null for other channels), <c>confidence</c> of all intervals;</item>
/// <item><c>line</c>: <c>from</c> and <c>days</c> it is fitted to, <c>now, now_low, now_high</c> (the line at the last day), <c>per_month, per_month_low, per_month_high</c> (30.4375 days),
/// <c>p</c> and <c>tau</c> (Mann–Kendall), <c>sure</c>; null where there is none, and <c>refusal</c> says why;</item>
/// <item><c>change</c>: <c>kind</c> (<c>none</c>, <c>step</c>, <c>ramp</c>), the weights <c>none, step, ramp</c>, <c>began, began_from, began_to</c>, <c>fall, fall_error</c>; null for other channels;</item>
/// <item><c>thresholds</c>: <c>name, value, side</c> (<c>above</c> or <c>below</c>: where it is bad), <c>meaning</c>;</item>
/// <item><c>projection</c>: <c>threshold</c> (its name), <c>earliest, median, latest</c> (null: farther than can be looked), <c>passed</c>, <c>refusal</c> (why there is no date);</item>
/// <item><c>days</c>: <c>day, at, value, error, count</c>, and <c>tube_current_ma</c> at one power; <c>services</c>: <c>time, part, action, serial, note</c>; <c>gaps</c>: <c>from, to, why</c>; <c>cautions</c> and <c>method</c>: sentences.</item>
/// </list>
/// Times are RFC 3339 in UTC, days ISO dates; numbers are not rounded.
/// </remarks>
internal static class TrendJson
{
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static void Print(IReadOnlyList<ChannelTrend> trends, TextWriter output)
    {
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes, Options))
        {
            json.WriteStartObject();
            json.WriteString("machine", trends[0].Machine);
            json.WriteString("channel", trends[0].Channel.Name);
            Array(json, "trends", trends, trend => Write(json, trend));
            json.WriteEndObject();
        }

        output.WriteLine(Encoding.UTF8.GetString(bytes.WrittenSpan));
    }

    private static void Write(Utf8JsonWriter json, ChannelTrend trend)
    {
        json.WriteString("what", trend.What);
        json.WriteString("unit", trend.IsHealthRatio ? "ratio" : trend.Unit);
        Number(json, "power", trend.Power);
        Number(json, "baseline_ma", trend.BaselineMilliamps);
        Tube(json, trend.Tube);
        json.WriteNumber("confidence", trend.Confidence);
        Line(json, trend);
        json.WriteString("refusal", trend.Refusal);
        Change(json, trend.Change);
        Array(json, "thresholds", trend.Thresholds, threshold =>
        {
            json.WriteString("name", threshold.Name);
            json.WriteNumber("value", threshold.Value);
            json.WriteString("side", threshold.Above ? "above" : "below");
            json.WriteString("meaning", threshold.Meaning);
        });
        json.WriteStartObject("projection");
        json.WriteString("threshold", trend.Projection.Threshold?.Name);
        Time(json, "earliest", trend.Projection.Earliest);
        Time(json, "median", trend.Projection.Median);
        Time(json, "latest", trend.Projection.Latest);
        json.WriteBoolean("passed", trend.Projection.Passed);
        json.WriteString("refusal", trend.Projection.Refusal);
        json.WriteEndObject();
        Days(json, trend);
        Array(json, "services", trend.Services, mark =>
        {
            Time(json, "time", mark.At);
            json.WriteString("part", mark.Part);
            json.WriteString("action", mark.Action);
            json.WriteString("serial", mark.Serial);
            json.WriteString("note", mark.Note);
        });
        Array(json, "gaps", trend.Gaps, gap =>
        {
            Time(json, "from", gap.From);
            Time(json, "to", gap.To);
            json.WriteString("why", gap.Why);
        });
        Texts(json, "cautions", trend.Cautions);
        Texts(json, "method", trend.Method);
    }

    private static void Tube(Utf8JsonWriter json, TubePeriod? tube)
    {
        if (tube is null)
        {
            json.WriteNull("tube");
            return;
        }

        json.WriteStartObject("tube");
        json.WriteNumber("number", tube.Number);
        json.WriteString("serial", tube.Serial);
        Time(json, "installed", tube.Installed);
        Time(json, "removed", tube.Removed);
        json.WriteNumber("beam_hours", tube.BeamHours);
        json.WriteEndObject();
    }

    private static void Line(Utf8JsonWriter json, ChannelTrend trend)
    {
        if (trend is not { Test: { } test, Now: { } now, PerMonth: { } month })
        {
            json.WriteNull("line");
            return;
        }

        json.WriteStartObject("line");
        json.WriteString("from", Date(trend.Days[trend.LineFrom].Day));
        json.WriteNumber("days", trend.Days.Count - trend.LineFrom);
        json.WriteNumber("now", now.Value);
        json.WriteNumber("now_low", now.Low);
        json.WriteNumber("now_high", now.High);
        json.WriteNumber("per_month", month.Value);
        json.WriteNumber("per_month_low", month.Low);
        json.WriteNumber("per_month_high", month.High);
        json.WriteNumber("p", test.P);
        json.WriteNumber("tau", test.Tau);
        json.WriteBoolean("sure", trend.IsSure);
        json.WriteEndObject();
    }

    private static void Change(Utf8JsonWriter json, ChangeFinding? found)
    {
        if (found is not { } change)
        {
            json.WriteNull("change");
            return;
        }

        json.WriteStartObject("change");
        json.WriteString("kind", change.Kind switch { ChangeKind.Step => "step", ChangeKind.Ramp => "ramp", _ => "none" });
        json.WriteNumber("none", change.None);
        json.WriteNumber("step", change.Step);
        json.WriteNumber("ramp", change.Ramp);
        if (change.Kind != ChangeKind.None)
        {
            Time(json, "began", ChannelTrend.FromDays(change.BeganDays));
            Time(json, "began_from", ChannelTrend.FromDays(change.BeganFromDays));
            Time(json, "began_to", ChannelTrend.FromDays(change.BeganToDays));
            json.WriteNumber("fall", change.Fall);
            json.WriteNumber("fall_error", change.FallError);
        }

        json.WriteEndObject();
    }

    private static void Days(Utf8JsonWriter json, ChannelTrend trend)
    {
        var milliamps = trend.Milliamps?.ToDictionary(day => day.Day, day => day.Value);
        Array(json, "days", trend.Days, day =>
        {
            json.WriteString("day", Date(day.Day));
            Time(json, "at", day.At);
            json.WriteNumber("value", day.Value);
            json.WriteNumber("error", day.Error);
            json.WriteNumber("count", day.Count);
            if (milliamps is not null)
                Number(json, "tube_current_ma", milliamps.TryGetValue(day.Day, out var current) ? current : null);
        });
    }

    private static void Time(Utf8JsonWriter json, string name, Instant? at) => json.WriteString(name, at is { } known ? Rfc3339.Format(known) : null);

    private static string Date(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
}
