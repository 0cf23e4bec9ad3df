using System.Diagnostics;
using System.IO.Compression;
using LaserWatch;
using LaserWatch.Evaluation;
using LaserWatch.Evaluation.OpenData;
using LaserWatch.Evaluation.Scenarios;
using LaserWatch.Evaluation.Scoring;
using LaserWatch.Evaluation.Simulation;

Arguments arguments;
try
{
    arguments = Arguments.Parse(args);
}
catch (FormatException mistake)
{
    Console.Error.WriteLine(mistake.Message);
    return 2;
}

var scenarios = (arguments.Quick ? Catalogue.Quick() : Catalogue.Full())
    .Select(scenario => scenario with { Seed = scenario.Seed + arguments.SeedsFrom })
    .Where(scenario => arguments.Only.Count == 0 || arguments.Only.Any(text => scenario.Name.Contains(text.Replace(' ', '-'), StringComparison.OrdinalIgnoreCase)))
    .ToList();
if (arguments.Only is ["open-data"])
{
    Console.Write(DataRow.Table(OpenDataFolder.Find()));
    return 0;
}

if (scenarios.Count == 0)
{
    Console.Error.WriteLine("No scenario has such a name: --list names them.");
    return 2;
}

if (arguments.List)
{
    foreach (var scenario in scenarios)
        Console.WriteLine(scenario.Name);
    return 0;
}

if (arguments.Write is { } folder)
{
    Directory.CreateDirectory(folder);
    foreach (var scenario in scenarios)
    {
        var path = Path.Combine(folder, string.Concat(scenario.Name.Select(c => char.IsAsciiLetterOrDigit(c) || c == '-' ? c : '_')) + ".lp.gz");
        using var gzip = new GZipStream(File.Create(path), CompressionLevel.Fastest);
        var sink = new RecordingSink(gzip);
        new Machine(scenario.Shop, scenario.Faults, scenario.Seed, scenario.StartDay).Run(scenario.Days, sink);
        sink.Flush();
        Console.WriteLine(path);
    }

    return 0;
}

var watch = Stopwatch.StartNew();
var outcomes = new Outcome[scenarios.Count];
// The longest first, so that the last to end is a short one.
var order = Enumerable.Range(0, scenarios.Count).OrderByDescending(i => scenarios[i].Days).ToList();
Parallel.ForEach(
    System.Collections.Concurrent.Partitioner.Create(order, System.Collections.Concurrent.EnumerablePartitionerOptions.NoBuffering),
    new ParallelOptions { MaxDegreeOfParallelism = arguments.Degree },
    i =>
    {
        outcomes[i] = ScenarioRun.Play(scenarios[i]);
        if (arguments.Verbose)
            Console.Error.Write(Account.Of(outcomes[i]));
    });

var report = Report.Of(outcomes);
if (arguments.OpenData && arguments.Only.Count == 0)
    report += DataRow.Table(OpenDataFolder.Find());
Console.Write(report);
if (arguments.Out is { } file)
    ReportFile.Write(file, args, TimeProvider.System.GetUtcNow(), report);
Console.Error.WriteLine(FormattableString.Invariant(
    $"{outcomes.Length} scenarios, {outcomes.Sum(o => o.Samples) / 1e6:0.0} million samples in {watch.Elapsed.TotalSeconds:0} s."));
return arguments.Sanity && outcomes.Any(o => o.FalseAlarms.Any(alarm => alarm.IsAboveLow)) ? 1 : 0;
