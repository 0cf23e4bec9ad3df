using LaserWatch.Benchmarks;

const string Usage = "usage: dotnet run -c Release --project tests/LaserWatch.Benchmarks -- detectors [--out FILE]";

if (args is not (["detectors"] or ["detectors", "--out", _]))
{
    Console.Error.WriteLine(Usage);
    return 2;
}

var tables = new List<string>();
foreach (var table in DetectorReport.Tables(new Effort(Runs: 1)))
{
    Console.Out.Write(table);
    tables.Add(table);
}

if (args.Length == 3)
    await File.WriteAllLinesAsync(args[2], tables);
return 0;
