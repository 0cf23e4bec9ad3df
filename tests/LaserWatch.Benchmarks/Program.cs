using System.Globalization;
using LaserWatch.Benchmarks;
using LaserWatch.Benchmarks.Micro;
using LaserWatch.Benchmarks.Speed;

var benches = string.Join(" | ", Bench.All.Select(b => b.Name));
var usage = $"usage: dotnet run -c Release --project tests/LaserWatch.Benchmarks -- (detectors | store [--days N] | micro [--smoke] | speed [{benches} …] [--smoke]) [--out FILE]";

if (args is [Yardstick.Word, var yardstick, var brokerPort])
    return await Yardstick.RunAsync(yardstick, int.Parse(brokerPort, CultureInfo.InvariantCulture));

string? file = null;
var rest = args;
if (rest is [.., "--out", var named])
    (file, rest) = (named, rest[..^2]);

List<string> tables;
var status = 0;
switch (rest)
{
    case [AgentProgram.BareRole, var port] when int.TryParse(port, NumberStyles.None, CultureInfo.InvariantCulture, out var broker):
        await BareWorker.RunAsync(broker);
        return 0;
    case ["detectors"]:
        tables = [.. DetectorReport.Tables(new Effort(Runs: 1))];
        break;
    case ["store"]:
        tables = [StoreReport.Print(await StoreReport.MeasureAsync(TimeSpan.FromDays(30)))];
        break;
    case ["store", "--days", var number] when int.TryParse(number, NumberStyles.None, CultureInfo.InvariantCulture, out var days) && days is > 0 and <= 366:
        tables = [StoreReport.Print(await StoreReport.MeasureAsync(TimeSpan.FromDays(days)))];
        break;
    case ["micro"] or ["micro", "--smoke"]:
        return MicroBenches.Run(smoke: rest.Length > 1) ? 0 : 1;
    case ["speed", .. var words] when words.All(w => w == "--smoke" || Bench.All.Any(b => b.Name == w)):
        var names = words.Where(w => w != "--smoke").ToHashSet(StringComparer.Ordinal);
        var (table, isSane) = await SpeedReport.RunAsync(
            [.. Bench.All.Where(b => names.Count == 0 || names.Contains(b.Name))], words.Contains("--smoke") ? Length.Smoke : Length.Whole, Console.Error, CancellationToken.None);
        tables = [table];
        status = isSane ? 0 : 1;
        break;
    default:
        Console.Error.WriteLine(usage);
        return 2;
}

foreach (var printed in tables)
    Console.Out.Write(printed);
if (file is not null)
    await File.WriteAllLinesAsync(file, tables);
return status;
