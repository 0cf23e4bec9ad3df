using System.ComponentModel.DataAnnotations;
using System.Text.Json.Serialization;
using LaserWatch.Diagnosis;

namespace LaserWatch.Configuration;

/// <summary>What spoils a cut, how to find out, and what each sign says. Numbers are common practice, to be bent to what the shop finds.</summary>
public sealed record CausesOptions : ICheckedOptions
{
    private const string Names = "^[a-z0-9][a-z0-9-]{0,39}$";
    private const string NamesRule = "1 to 40 of a-z, 0-9 and '-'";

    /// <summary>Where editors find the schema that completes and checks this file; the agent itself does not read it.</summary>
    [JsonPropertyName("$schema")]
    public string? Schema { get; init; }

    /// <summary>Weight of what stands in no table, beside the causes' own. Higher: the ranking trusts the table less.</summary>
    [Range(0.1, 1000.0)]
    public double SomethingElse { get; init; } = 5;

    /// <summary>Beam hours in a working day; turns days since a service into hours where no beam was counted.</summary>
    [Range(0.1, 24.0)]
    public double BeamHoursADay { get; init; } = 4;

    /// <summary>The causes by name.</summary>
    [KeyPattern(Names, NamesRule)]
    public required IReadOnlyDictionary<string, CauseOptions> Causes { get; init; }

    /// <summary>The checks by name. Each must find a cause.</summary>
    [KeyPattern(Names, NamesRule)]
    public required IReadOnlyDictionary<string, CheckOptions> Checks { get; init; }

    /// <summary>The signs by name.</summary>
    [KeyPattern(Names, NamesRule)]
    public required IReadOnlyDictionary<string, SignOptions> Signs { get; init; }

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (Causes.Count == 0)
            yield return new("causes", "there is no cause", "write at least one");
        foreach (var (name, cause) in Causes)
        {
            if (name == CauseModel.Other || Checks.ContainsKey(name) && cause.Check != name)
                yield return new($"causes.{name}", $"'{name}' already means something else", "take another name");
            if (!Checks.ContainsKey(cause.Check))
                yield return new($"causes.{name}.check", $"there is no check '{cause.Check}'", Instead(cause.Check, Checks.Keys));
        }

        foreach (var (name, check) in Checks)
        {
            if (Causes.Values.All(c => c.Check != name))
                yield return new($"checks.{name}", "no cause names this check", "name it at the cause that it finds, or take it out");
        }

        foreach (var mistake in SignMistakes())
            yield return mistake;
    }

    internal CauseModel ToModel() => new(
        [.. Causes.Select(c => c.Value.ToCause(c.Key))], [.. Checks.Select(c => new CauseCheck(c.Key, c.Value.How, c.Value.Minutes, c.Value.Sensitivity, c.Value.Safety))],
        [.. Signs.Select(s => s.Value.ToSign(s.Key))], SomethingElse, BeamHoursADay);

    private IEnumerable<OptionMistake> SignMistakes()
    {
        var met = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var (name, sign) in Signs)
        {
            var at = $"signs.{name}";
            if ((sign.Minutes is null) != (sign.How is null))
                yield return new(at, "'minutes' and 'how' go together", "write both, or neither where only sensors answer it");
            foreach (var (answer, chances) in sign.Answers)
            {
                if (!met.TryAdd(answer, name))
                    yield return new($"{at}.answers.{answer}", $"the sign '{met[answer]}' has an answer of this name", "take another name");
                foreach (var (cause, chance) in chances.With)
                {
                    if (cause != CauseModel.Other && !Causes.ContainsKey(cause))
                        yield return new($"{at}.answers.{answer}.with.{cause}", $"there is no cause '{cause}'", Instead(cause, [.. Causes.Keys, CauseModel.Other]));
                    if (!(chance is >= 0.01 and <= 0.97))
                        yield return new($"{at}.answers.{answer}.with.{cause}", "a chance is from 0.01 to 0.97: nothing is certain", "write one of these");
                }
            }

            foreach (var cause in Causes.Keys.Append(CauseModel.Other))
            {
                var sum = sign.Answers.Values.Sum(a => a.With.GetValueOrDefault(cause, a.Otherwise));
                if (sum > 0.98 + 1e-9)
                    yield return new($"{at}.answers", FormattableString.Invariant($"the chances of all answers with '{cause}' sum to {sum:0.###}"), "make them 0.98 at most: it may also be none of them");
            }
        }
    }

    private static string Instead(string word, IEnumerable<string> names)
    {
        var all = names.ToList();
        return NearestWord.To(word, all) is { } nearest ? $"did you mean '{nearest}'?" : $"use one of {string.Join(", ", all)}";
    }
}

/// <summary>One cause of a spoilt cut.</summary>
public sealed record CauseOptions
{
    /// <summary>What is wrong, in a few words.</summary>
    [StringLength(120, MinimumLength = 1)]
    public required string What { get; init; }

    /// <summary>How often it is the cause, against the others, before anything is known.</summary>
    [Range(0.01, 1000.0)]
    public required double Weight { get; init; }

    /// <summary>The check that finds it.</summary>
    [StringLength(40, MinimumLength = 1)]
    public required string Check { get; init; }

    /// <summary>What puts it right.</summary>
    [StringLength(300, MinimumLength = 1)]
    public required string Mend { get; init; }

    /// <summary>How the mend is logged; null: there is nothing to log.</summary>
    public LogOfMendOptions? Log { get; init; }

    /// <summary>How it grows likelier with beam hours since its part was served; null: it does not.</summary>
    public WearOptions? Wear { get; init; }

    /// <summary>Other work that can bring it about; null: none.</summary>
    public DisturbedOptions? Disturbed { get; init; }

    /// <summary>Names by which an alarm's evidence ranks it.</summary>
    public IReadOnlyList<string> AlarmCauses { get; init; } = [];

    internal Cause ToCause(string name) => new(
        name, What, Weight, Check, Mend, Log is { } log ? (log.Part, log.Action) : null, Wear is { } wear ? new Wear(wear.Parts, wear.UsualHours, wear.Shape) : null,
        Disturbed is { } d ? new Disturbance(d.By, d.SettledBy, d.Times, d.Hours) : null, AlarmCauses);
}

/// <summary>An entry of the service log.</summary>
public sealed record LogOfMendOptions
{
    /// <summary>The part, as in <c>lens</c>.</summary>
    [StringLength(60, MinimumLength = 1)]
    public required string Part { get; init; }

    /// <summary>The action, as in <c>cleaned</c>.</summary>
    [StringLength(60, MinimumLength = 1)]
    public required string Action { get; init; }
}

/// <summary>Growth with beam hours since the last service.</summary>
public sealed record WearOptions
{
    /// <summary>Names in the service log that count; the newest is taken.</summary>
    public required IReadOnlyList<string> Parts { get; init; }

    /// <summary>Usual beam hours between services; the weight is that of a part served so long ago.</summary>
    [Range(0.1, 100000.0)]
    public required double UsualHours { get; init; }

    /// <summary>1: as likely at any time; higher: seldom soon after a service.</summary>
    [Range(0.5, 10.0)]
    public double Shape { get; init; } = 1.5;
}

/// <summary>Other work that can bring a cause about.</summary>
public sealed record DisturbedOptions
{
    /// <summary>Parts in the service log.</summary>
    public required IReadOnlyList<string> By { get; init; }

    /// <summary>Parts whose later service shows that all is well.</summary>
    public IReadOnlyList<string> SettledBy { get; init; } = [];

    /// <summary>How many times likelier at once after.</summary>
    [Range(1.0, 20.0)]
    public required double Times { get; init; }

    /// <summary>Beam hours in which that fades.</summary>
    [Range(0.1, 1000.0)]
    public required double Hours { get; init; }
}

/// <summary>Something to do that finds a cause.</summary>
public sealed record CheckOptions
{
    /// <summary>How it is done.</summary>
    [StringLength(400, MinimumLength = 1)]
    public required string How { get; init; }

    /// <summary>Effort of somebody who knows the machine, with waiting and fetching. Lower: looked at sooner.</summary>
    [Range(0.1, 10000.0)]
    public required double Minutes { get; init; }

    /// <summary>Chance that it finds its cause when that is the true one.</summary>
    [Range(0.05, 0.99)]
    public required double Sensitivity { get; init; }

    /// <summary>What to mind; told with the check, and with the mend of what it finds.</summary>
    [StringLength(400, MinimumLength = 1)]
    public required string Safety { get; init; }
}

/// <summary>A question with a few answers.</summary>
public sealed record SignOptions
{
    /// <summary>What it is about.</summary>
    [StringLength(120, MinimumLength = 1)]
    public required string About { get; init; }

    /// <summary>Minutes to find the answer by hand; null: nobody is asked, only sensors or the command line answer it.</summary>
    [Range(0.1, 10000.0)]
    public double? Minutes { get; init; }

    /// <summary>How the answer is found; null with the minutes.</summary>
    [StringLength(400, MinimumLength = 1)]
    public string? How { get; init; }

    /// <summary>What to mind; null: nothing beyond what always holds.</summary>
    [StringLength(400, MinimumLength = 1)]
    public string? Safety { get; init; }

    /// <summary>The answers by name; what is left to 1 is none of them.</summary>
    [KeyPattern("^[a-z0-9][a-z0-9-]{0,39}$", "1 to 40 of a-z, 0-9 and '-'")]
    public required IReadOnlyDictionary<string, AnswerOptions> Answers { get; init; }

    internal Sign ToSign(string name) => new(
        name, About, Minutes, How, Safety, [.. Answers.Select(a => new SignAnswer(a.Key, a.Value.Means, a.Value.Otherwise, a.Value.With))]);
}

/// <summary>One answer.</summary>
public sealed record AnswerOptions
{
    /// <summary>The answer in words.</summary>
    [StringLength(120, MinimumLength = 1)]
    public required string Means { get; init; }

    /// <summary>Its chance with the causes that are not named.</summary>
    [Range(0.01, 0.97)]
    public required double Otherwise { get; init; }

    /// <summary>Its chance with each cause named, from 0.01 to 0.97.</summary>
    public IReadOnlyDictionary<string, double> With { get; init; } = new Dictionary<string, double>();
}
