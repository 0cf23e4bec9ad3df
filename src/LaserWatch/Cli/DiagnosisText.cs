using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.Diagnosis;
using LaserWatch.Telemetry;

namespace LaserWatch.Cli;

/// <summary>A diagnosis for a person at the machine, in at most a hundred columns.</summary>
internal sealed class DiagnosisText
{
    private const int Columns = 100;
    private const int ChecksInFull = 6;
    private const double LeastShown = 0.02;

    private readonly DiagnosedCut _cut;
    private readonly TextWriter _output;
    private readonly HashSet<string> _told = [];
    private int _step;

    private DiagnosisText(DiagnosedCut cut, TextWriter output) => (_cut, _output) = (cut, output);

    public static void Print(DiagnosedCut cut, TextWriter output) => new DiagnosisText(cut, output).Print();

    private void Print()
    {
        Heading();
        Known();
        Found();
        Causes();
        Line("");
        Line($"{(_cut.Looked.Found.Count > 0 ? "Should it still cut badly, check" : "Check")} in this order: {Number(_cut.Diagnosis.Plan.ExpectedMinutes)} minutes on average, if the cause is one of these");
        Plan(_cut.Diagnosis.Plan);
        Line("");
        Line("Tell what came of it, and the order is made anew:");
        Text("  ", $"laserwatch diagnose {_cut.Machine.Machine} {Again()}[--ruled-out CHECK] [--found CAUSE] [--seen ANSWER]");
        Limits();
        Cautions();
    }

    private void Heading()
    {
        var machine = _cut.Machine;
        var run = machine.Run is { } last
            ? $"last run {last.Job ?? "of an unknown job"}, {last.Began.ToDateTimeOffset():yyyy-MM-dd HH:mm} to {last.Until.ToDateTimeOffset():HH:mm} UTC"
            : "no run with the beam on is known";
        Line($"{machine.Machine}: {run}");
        if (machine.Record is { } record && record.Job != machine.Run?.Job)
            Line($"compared with the record of {record.Job}");
        var urgent = machine.Alarms.Where(a => a.Stands && a.Raised.Priority >= AlarmPriority.High).ToList();
        if (urgent.Count > 0)
            Text("", $"DO NOT CUT ON while these stand: {string.Join(", ", urgent.Select(a => a.Raised.Condition))}.");
    }

    private void Known()
    {
        if (_cut.Symptoms.Comparisons.Count > 0)
        {
            Line("");
            Line("Known, against the record");
            var listing = new Listing("  channel", "last run", "recorded", "usual", "difference", "verdict");
            foreach (var row in _cut.Symptoms.Comparisons)
            {
                listing.Row(
                    "  " + row.Channel.Name, Value(row.Value, row.Channel) + (row.InRun ? "" : " now"), Value(row.Recorded, row.Channel), Value(row.Usual, row.Channel),
                    row.Difference, row.Verdict);
            }

            listing.Print(_output, terminal: false);
        }

        if (_cut.Symptoms.Missing.Count > 0)
        {
            Line("");
            Line("Not known");
            foreach (var missing in _cut.Symptoms.Missing)
                Text("  ", missing);
        }

        if (_cut.Machine.Alarms.Count > 0)
        {
            Line("");
            Line("Alarms of the last run");
            foreach (var alarm in _cut.Machine.Alarms)
                Text("  ", $"{alarm.Raised.Condition} ({alarm.Raised.Priority.Name()}{(alarm.Stands ? ", stands" : "")}): {alarm.Raised.Message}");
        }

        if (_cut.Machine.Served.Count > 0)
        {
            Line("");
            Text("", "Service log: " + string.Join("; ", _cut.Machine.Served.OrderBy(s => s.Days).Take(12).Select(Served)));
        }
    }

    private void Found()
    {
        var found = _cut.Model.Causes.Where(c => _cut.Looked.Found.Contains(c.Id) || _cut.Looked.Found.Contains(c.Check)).ToList();
        if (found.Count == 0)
            return;
        Line("");
        Line(found.Count == 1 ? "Found" : "Found, one of these: name it by --found CAUSE");
        foreach (var cause in found)
        {
            Text("  ", $"{cause.Id}: {cause.What}. Mend: {cause.Mend}.");
            Text("    ", "Mind: " + _cut.Model.FindCheck(cause.Check)!.Safety);
            if (cause.Log is { } log)
                Line($"    log it:  laserwatch service add {_cut.Machine.Machine} --part {log.Part} --action {log.Action}");
        }

        Line("    then prove it by a test cut, and log that:");
        TestCutLine();
    }

    private void Causes()
    {
        Line("");
        Line($"Causes, likeliest first ({Number(_cut.Diagnosis.EntropyBits)} bits open; one cause at a time is assumed)");
        var shown = _cut.Diagnosis.Causes.Where((c, i) => c.Weight >= LeastShown || i < 3).Take(12).ToList();
        foreach (var cause in shown)
        {
            Line($"  {Percent(cause.Weight),4}  {cause.Id,-19} {cause.Cause?.What ?? "what this table does not know"}");
            foreach (var reason in cause.Reasons.Take(3))
                Text("          ", $"{(reason.Factor >= 1 ? "for" : "against")}: {reason.Says} ({Factor(reason.Factor)})");
        }

        var rest = _cut.Diagnosis.Causes.Except(shown).ToList();
        if (rest.Count > 0)
            Text("  ", $"below: {string.Join(", ", rest.Select(c => c.Id))} ({Percent(rest.Sum(c => c.Weight))} together)");
    }

    private void Plan(CheckPlan plan)
    {
        foreach (var check in plan.Checks.Take(ChecksInFull))
        {
            Line($"{++_step,3}. {check.Check.Id}, {Number(check.Check.Minutes)} min: finds {string.Join(", ", check.Finds)} ({Percent(check.Chance)}{(check.Again ? ", a second look" : "")})");
            if (!_told.Add(check.Check.Id))
                continue;
            Text("     ", check.Check.How);
            Text("     ", "Mind: " + check.Check.Safety);
        }

        if (plan.Checks.Count > ChecksInFull)
            Text("     ", $"then: {string.Join(", ", plan.Checks.Skip(ChecksInFull).Where(c => !c.Again).Select(c => c.Check.Id))}, and what was overlooked");
        if (plan.Question is not { } question)
            return;

        Line($"{++_step,3}. ask: {question.Sign.About}, {Number(question.Sign.Minutes ?? 0)} min");
        Text("     ", question.Sign.How!);
        if (question.Sign.Safety is { } mind)
            Text("     ", "Mind: " + mind);
        foreach (var branch in question.Branches.OrderByDescending(b => b.Chance))
            Text("       ", $"{Name(branch)} ({Percent(branch.Chance)}): {string.Join(", ", First(branch.Then, 4))}");
        Text("     ", $"The answer, by --seen, makes the order anew. Without it: {string.Join(", ", question.Branches.MaxBy(b => b.Chance)!.Then.All().Where(c => !c.Again).Select(c => c.Check.Id))}");
    }

    private void Limits()
    {
        Line("");
        Line("What this cannot know");
        Text("  ", "Tube current clears neither tube nor supply: a supply that still regulates holds the current while the tube's light fades. Only a test cut or a power probe knows. Log one by");
        TestCutLine();
        Text("  ", "The weights are common practice, not your shop's; two faults at once are not looked for. When the causes above are ruled out, think again from the start.");
    }

    private void Cautions()
    {
        Line("");
        Line("Cautions");
        Text("  ", Alarms.Cautions.Advisory + " This replaces neither interlocks nor the machine's manual. Inside the enclosure the beam is class 4: it injures eyes and skin and lights material; keep the lid shut and the interlocks working. "
            + "The supply makes tens of kilovolts, which can kill, also switched off: only a qualified person opens that side. Never leave a running machine unattended; without air assist a cut can catch fire. "
            + "Let pressure off before opening an air line. Extraction on; never cut PVC or what you do not know.");
    }

    private void TestCutLine()
    {
        var (power, speed) = (_cut.Machine.Record?.Power?.Value, _cut.Machine.Record?.SpeedMmPerS);
        Line($"    laserwatch service add {_cut.Machine.Machine} --part test-cut --action made \\");
        Line($"      --field power={(power is { } p ? Number(p) : "PERCENT")} --field speed={(speed is { } v ? Number(v) : "MM_PER_S")} --field outcome=through    (or not-through)");
    }

    private string Again()
    {
        var words = new List<string>();
        foreach (var (option, told) in new (string, IEnumerable<string>)[] { ("--seen", _cut.Seen), ("--not-seen", _cut.NotSeen), ("--ruled-out", _cut.Looked.RuledOut) })
        {
            if (told.Any())
                words.Add($"{option} {string.Join(',', told)} ");
        }

        return string.Concat(words);
    }

    private static IEnumerable<string> First(CheckPlan plan, int count)
    {
        var names = plan.Checks.Select(c => c.Check.Id);
        return (plan.Question is { } ask ? names.Append($"ask {ask.Sign.Id}") : names).Take(count);
    }

    private static string Name(PlannedBranch branch) => branch.Answer?.Id ?? "none of them";

    private static string Served(ServedPart part) =>
        $"{part.Part} {part.Action} {(part.BeamHours is { } hours ? $"{Number(hours)} beam hours" : $"{Number(part.Days)} days")} ago";

    private static string Value(double? value, Channel channel) =>
        value is { } number ? string.Create(CultureInfo.InvariantCulture, $"{number:0.0} {channel.Unit}") : "";

    private static string Percent(double part) => part < 0.005 ? "<1 %" : string.Create(CultureInfo.InvariantCulture, $"{part * 100:0} %");

    private static string Factor(double factor) => factor >= 1 ? $"× {Number(factor)}" : $"÷ {Number(1 / factor)}";

    private static string Number(double value) => value.ToString("0.#", CultureInfo.InvariantCulture);

    private void Line(string text) => _output.WriteLine(text);

    /// <summary>Words wrapped at the width, each line indented, the second and later ones by two more.</summary>
    private void Text(string indent, string words)
    {
        var line = indent;
        foreach (var word in words.Split(' '))
        {
            if (line.Length + word.Length + 1 > Columns && line.Trim().Length > 0)
            {
                Line(line);
                line = indent + "  ";
            }

            line += line.Trim().Length == 0 ? word : " " + word;
        }

        Line(line);
    }
}
