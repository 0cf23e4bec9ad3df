using System.Text;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Payloads;
using LaserWatch.Telemetry;
using Xunit.Abstractions;

namespace LaserWatch.Fuzz;

/// <summary>Files that people write: a value that can be relied on, or mistakes that can be read.</summary>
public sealed class ConfigurationFuzzTests(ITestOutputHelper output) : IDisposable
{
    private static readonly string[] Words =
        ["\"env\":", "\"file\":", "\"host\": \"x\",", "\"rules\": {", "\"machines\": {", "\"sensors\": [", "\"kind\":", "\"topic\":", "//", "/*", "*/", "#", "+", "\"\"", "-", ".5", "\"PT1S\"", "\"high\""];

    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("laserwatch-fuzz-");

    public void Dispose() => _folder.Delete(recursive: true);

    [Fact]
    public void A_configuration_of_any_bytes_gives_options_that_the_agent_can_be_built_from_or_mistakes()
    {
        File.WriteAllBytes(Path.Combine(_folder.FullName, "jobs.json"), Shipped("jobs.json"));
        byte[][] seeds =
        [
            WithoutComments(Shipped("laserwatch.json")),
            "{}"u8.ToArray(),
            """{"broker":{"host":"b","user":"u","password":{"env":"NONE"}},"store":{"path":"x.db"},"rules":{"limits":{"exhaust":{"low":1,"priority":"high"}},"upkeep":{"intervals":[{"part":"lens","days":3}]}}}"""u8.ToArray(),
        ];
        new Fuzzing(output, seeds[1..], Words, ReadConfiguration).Run(cases: 1_000);
        new Fuzzing(output, seeds[..1], Words, ReadConfiguration).Run(cases: 300);
    }

    [Fact]
    public void A_jobs_file_of_any_bytes_gives_records_or_mistakes() =>
        new Fuzzing(output, [WithoutComments(Shipped("jobs.json")), """{"jobs":[]}"""u8.ToArray()], [.. Words, "\"recordedAt\":", "\"mode\":\"raster\"", "0001-01-01", "9999-12-31T23:59:59Z"], bytes =>
            Law(JobsFile.Read(Put(bytes)))).Run(cases: 1_500);

    [Fact]
    public void A_causes_file_of_any_bytes_gives_a_model_or_mistakes() =>
        new Fuzzing(output, [WithoutComments(Shipped("causes.json"))], Words, bytes => Law(CausesFile.Read(Put(bytes)))).Run(cases: 400);

    private static byte[] Shipped(string name) => File.ReadAllBytes(Path.Combine(Repository.Folder, "config", name));

    // Comments make four fifths of the files, and changes in them change nothing.
    private static byte[] WithoutComments(byte[] text) => Encoding.UTF8.GetBytes(string.Join(
        '\n', Encoding.UTF8.GetString(text).Split('\n').Where(line => !line.TrimStart().StartsWith("//", StringComparison.Ordinal))));

    private string Put(byte[] bytes)
    {
        var path = Path.Combine(_folder.FullName, "fuzzed.json");
        File.WriteAllBytes(path, bytes);
        return path;
    }

    private void ReadConfiguration(byte[] bytes)
    {
        var read = ConfigurationFile.Read(Put(bytes), _ => null);
        Law(read);
        if (read.Value is not { } options)
            return;
        _ = new MessageDecoder(options.Input, options.TopicRules(), [.. options.Machines.Keys], new ChannelTable());
        _ = options.Subscriptions();
        foreach (var machine in options.Machines.Keys.Take(3))
            _ = new MachineWatch(machine, options.RulesOf(machine), new JobBook());
    }

    private static void Law<T>(ConfigurationRead<T> read)
        where T : class
    {
        Assert.Equal(read.Value is null, read.Mistakes.Count > 0);
        Assert.All(read.Mistakes, mistake => Fuzzing.AssertSayable(mistake.ToString()));
    }
}
