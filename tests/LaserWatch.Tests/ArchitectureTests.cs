using System.Reflection;
using System.Runtime.CompilerServices;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Logging;

namespace LaserWatch;

public class ArchitectureTests
{
    /// <summary>Each library, and the only folders of src/LaserWatch that may name it; "." is the folder itself.</summary>
    public static TheoryData<string, string> Libraries => new()
    {
        { "MQTTnet", "Mqtt" },
        { "Microsoft.AspNetCore", "Mqtt" },
        { "Microsoft.Data.Sqlite", "Storage/Sqlite Storage/Influx Delivery" },
        { "InfluxDB.Client", "Storage/Influx" },
        { "ScottPlot", "Plots" },
        { "SkiaSharp", "Plots" },
        { "Spectre.Console", "Cli" },
        { "System.CommandLine", ". Cli" },
        { "MailKit", "Delivery" },
        { "MimeKit", "Delivery" },
        { "NodaTime", "Delivery" },
        { "System.Security.Cryptography.Pkcs", "Proof" },
        { "Serilog", ". Cli Demo" },
        { "Microsoft.Extensions.Hosting", ". Cli Demo Health Mqtt Pipeline" },
        { "OpenTelemetry", "Health" },
    };

    [Fact]
    public void Core_refers_only_to_the_base_library_and_pure_numerics()
    {
        var strangers = typeof(Sample).Assembly.GetReferencedAssemblies()
            .Select(a => a.Name!)
            .Where(name => !name.StartsWith("System", StringComparison.Ordinal) && name is not ("MathNet.Numerics" or "netstandard"));

        Assert.Empty(strangers);
    }

    [Theory]
    [MemberData(nameof(Libraries))]
    public void Each_library_is_named_in_its_own_folders_only(string library, string folders)
    {
        var agent = Path.Combine(Root(), "src", "LaserWatch");
        var named = Directory.EnumerateFiles(agent, "*.cs", SearchOption.AllDirectories)
            .Where(file => !Path.GetRelativePath(agent, file).StartsWith("obj", StringComparison.Ordinal))
            .Where(file => File.ReadLines(file).Any(line =>
                line.StartsWith($"using {library}", StringComparison.Ordinal) || line.StartsWith($"using static {library}", StringComparison.Ordinal)))
            .Select(file => Path.GetRelativePath(agent, Path.GetDirectoryName(file)!).Replace('\\', '/'))
            .Distinct().Order().ToList();

        Assert.NotEmpty(named); // or the rule guards nothing
        Assert.Subset(folders.Split(' ').ToHashSet(), named.ToHashSet());
    }

    [Fact]
    public void Log_ids_are_told_apart()
    {
        var ids = typeof(Log).GetMethods(BindingFlags.Static | BindingFlags.Public | BindingFlags.NonPublic)
            .Select(method => method.GetCustomAttribute<LoggerMessageAttribute>())
            .OfType<LoggerMessageAttribute>()
            .Select(message => message.EventId)
            .ToList();

        Assert.True(ids.Count > 20);
        Assert.Equal(ids.Distinct(), ids);
    }

    private static string Root([CallerFilePath] string here = "") => Path.GetFullPath(Path.Combine(Path.GetDirectoryName(here)!, "..", ".."));
}
