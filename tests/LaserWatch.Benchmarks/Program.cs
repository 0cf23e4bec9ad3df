using System.Globalization;
using LaserWatch.Benchmarks;

const string Usage = "usage: dotnet run -c Release --project tests/LaserWatch.Benchmarks -- (detectors | store [--days N]) [--out FILE]";

string? file = null;
var rest = args;
if (rest is [.., "--out", var named])
    (file, rest) = (named, rest[..^2]);

List<string> tables;
switch (rest)
{
    case ["detectors"]:
        tables = [.. DetectorReport.Tables(new Effort(Runs: 1))];
        break;
    case ["store"]:
        tables = [StoreReport.Print(await StoreReport.MeasureAsync(TimeSpan.FromDays(30)))];
        break;
    case ["store", "--days", var number] when int.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out var days) && days is > 0 and <= 366:
        tables = [StoreReport.Print(await StoreReport.MeasureAsync(TimeSpan.FromDays(days)))];
        break;
    default:
        Console.Error.WriteLine(Usage);
        return 2;
}

foreach (var table in tables)
    Console.Out.Write(table);
if (file is not null)
    await File.WriteAllLinesAsync(file, tables);
return 0;
