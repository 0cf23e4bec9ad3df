using System.Globalization;

namespace LaserWatch.Evaluation;

/// <summary>What was asked on the command line.</summary>
internal sealed record Arguments
{
    public const string Usage = """
        LaserWatch.Evaluation: plays simulated machines and open recordings through the rules, and prints what they found.
          --quick         some weeks and a fault of each kind, in about a minute
          --only TEXT     only scenarios whose name holds TEXT; may be repeated; open-data: only the open data sets
          --verbose       every scenario's alarms, on stderr
          --list          the scenarios' names, and nothing more
          --out FILE      the tables into FILE too; where it holds the line <!-- tables -->, below that
          --write FOLDER  the chosen scenarios as recordings, NAME.lp.gz, instead of judging them
          --degree N      so many at once; default: as many as there are processors
          --no-data       leave out the open data sets
          --seeds-from N  other machines and days: N is added to every scenario's seed
          --sanity        status 1 where a healthy machine was given a false alarm above low
        """;

    public bool Quick { get; init; }

    public IReadOnlyList<string> Only { get; init; } = [];

    public bool Verbose { get; init; }

    public bool List { get; init; }

    public string? Out { get; init; }

    public string? Write { get; init; }

    public int Degree { get; init; } = Environment.ProcessorCount;

    /// <summary>Added to every seed: machines on which nobody has looked yet.</summary>
    public ulong SeedsFrom { get; init; }

    public bool OpenData { get; init; } = true;

    public bool Sanity { get; init; }

    /// <exception cref="FormatException">An argument is not known, or lacks its value; says which.</exception>
    public static Arguments Parse(string[] words)
    {
        var arguments = new Arguments();
        for (var i = 0; i < words.Length; i++)
        {
            arguments = words[i] switch
            {
                "--quick" => arguments with { Quick = true },
                "--only" => arguments with { Only = [.. arguments.Only, Value(ref i)] },
                "--verbose" => arguments with { Verbose = true },
                "--list" => arguments with { List = true },
                "--out" => arguments with { Out = Value(ref i) },
                "--write" => arguments with { Write = Value(ref i) },
                "--degree" => arguments with { Degree = Degree(Value(ref i), "--degree") },
                "--seeds-from" => arguments with { SeedsFrom = (ulong)Degree(Value(ref i), "--seeds-from") },
                "--no-data" => arguments with { OpenData = false },
                "--sanity" => arguments with { Sanity = true },
                _ => throw new FormatException($"'{words[i]}' is no argument.\n{Usage}"),
            };
        }

        return arguments;

        string Value(ref int at) => ++at < words.Length ? words[at] : throw new FormatException($"{words[at - 1]} lacks its value.\n{Usage}");

        static int Degree(string word, string name) => int.TryParse(word, NumberStyles.None, CultureInfo.InvariantCulture, out var degree) && degree > 0
            ? degree
            : throw new FormatException($"{name} is '{word}'; give a number above 0.");
    }
}
