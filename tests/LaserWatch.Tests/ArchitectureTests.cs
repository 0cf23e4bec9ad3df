using LaserWatch.Telemetry;

namespace LaserWatch;

public class ArchitectureTests
{
    [Fact]
    public void Core_refers_only_to_the_base_library_and_pure_numerics()
    {
        var strangers = typeof(Sample).Assembly.GetReferencedAssemblies()
            .Select(a => a.Name!)
            .Where(name => !name.StartsWith("System", StringComparison.Ordinal) && name is not ("MathNet.Numerics" or "netstandard"));

        Assert.Empty(strangers);
    }
}
