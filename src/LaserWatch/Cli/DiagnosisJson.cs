using System.Buffers;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using static LaserWatch.Cli.JsonParts;

namespace LaserWatch.Cli;

/// <summary>A diagnosis as one JSON object, for scripts.</summary>
internal static class DiagnosisJson
{
    private static readonly JsonWriterOptions Options = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static void Print(DiagnosedCut cut, TextWriter output)
    {
        var bytes = new ArrayBufferWriter<byte>();
        using (var json = new Utf8JsonWriter(bytes, Options))
            Write(json, cut);
        output.WriteLine(Encoding.UTF8.GetString(bytes.WrittenSpan));
    }

    private static void Write(Utf8JsonWriter json, DiagnosedCut cut)
    {
        var machine = cut.Machine;
        json.WriteStartObject();
        json.WriteString("machine", machine.Machine);
        json.WriteString("newest", machine.Newest is { } newest ? Rfc3339.Format(newest) : null);
        json.WriteString("job", machine.Run?.Job);
        json.WriteString("compared_with", machine.Record?.Job);
        json.WriteString("run_from", machine.Run is { } run ? Rfc3339.Format(run.Began) : null);
        json.WriteString("run_until", machine.Run is { } last ? Rfc3339.Format(last.Until) : null);
        Array(json, "known", cut.Symptoms.Comparisons, row =>
        {
            json.WriteString("channel", row.Channel.Name);
            json.WriteString("unit", row.Channel.Unit);
            Rounded(json, "value", row.Value);
            json.WriteBoolean("in_run", row.InRun);
            Rounded(json, "recorded", row.Recorded);
            Rounded(json, "usual", row.Usual);
            json.WriteString("verdict", row.Verdict);
        });
        Texts(json, "missing", cut.Symptoms.Missing);
        Array(json, "alarms", machine.Alarms, alarm =>
        {
            json.WriteString("condition", alarm.Raised.Condition);
            json.WriteString("priority", alarm.Raised.Priority.Name());
            json.WriteString("time", Rfc3339.Format(alarm.Raised.Time));
            json.WriteBoolean("stands", alarm.Stands);
            json.WriteString("message", alarm.Raised.Message);
        });
        Array(json, "served", machine.Served, part =>
        {
            json.WriteString("part", part.Part);
            json.WriteString("action", part.Action);
            Rounded(json, "beam_hours", part.BeamHours);
            Rounded(json, "days", part.Days);
        });
        json.WriteStartObject("told");
        Texts(json, "seen", cut.Seen);
        Texts(json, "not_seen", cut.NotSeen);
        Texts(json, "found", cut.Looked.Found);
        Texts(json, "ruled_out", cut.Looked.RuledOut);
        json.WriteEndObject();
        Array(json, "causes", cut.Diagnosis.Causes, cause =>
        {
            json.WriteString("cause", cause.Id);
            json.WriteString("what", cause.Cause?.What);
            Rounded(json, "weight", cause.Weight);
            Rounded(json, "before", cause.Before);
            json.WriteString("check", cause.Cause?.Check);
            json.WriteString("mend", cause.Cause?.Mend);
            json.WriteString("safety", cause.Cause is { } known ? cut.Model.FindCheck(known.Check)!.Safety : null);
            Array(json, "reasons", cause.Reasons, reason =>
            {
                json.WriteString("says", reason.Says);
                Rounded(json, "factor", reason.Factor);
            });
        });
        json.WriteString("caution", Alarms.Cautions.Advisory);
        Rounded(json, "entropy_bits", cut.Diagnosis.EntropyBits);
        json.WritePropertyName("plan");
        Plan(json, cut.Diagnosis.Plan);
        json.WriteEndObject();
    }

    private static void Plan(Utf8JsonWriter json, CheckPlan plan)
    {
        json.WriteStartObject();
        Rounded(json, "expected_minutes", plan.ExpectedMinutes);
        Array(json, "checks", plan.Checks, planned =>
        {
            json.WriteString("check", planned.Check.Id);
            Rounded(json, "minutes", planned.Check.Minutes);
            Rounded(json, "chance", planned.Chance);
            Texts(json, "finds", planned.Finds);
            json.WriteBoolean("again", planned.Again);
            json.WriteString("how", planned.Check.How);
            json.WriteString("safety", planned.Check.Safety);
        });
        if (plan.Question is { } question)
        {
            json.WriteStartObject("question");
            json.WriteString("sign", question.Sign.Id);
            json.WriteString("about", question.Sign.About);
            Rounded(json, "minutes", question.Sign.Minutes);
            json.WriteString("how", question.Sign.How);
            json.WriteString("safety", question.Sign.Safety);
            Array(json, "answers", question.Branches, branch =>
            {
                json.WriteString("answer", branch.Answer?.Id);
                Rounded(json, "chance", branch.Chance);
                json.WritePropertyName("then");
                Plan(json, branch.Then);
            });
            json.WriteEndObject();
        }
        else
        {
            json.WriteNull("question");
        }

        json.WriteEndObject();
    }

    private static void Rounded(Utf8JsonWriter json, string name, double? value) =>
        Number(json, name, value is { } number ? Math.Round(number, 4) : null);
}
