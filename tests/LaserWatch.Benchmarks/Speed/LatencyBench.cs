namespace LaserWatch.Benchmarks.Speed;

public static class LatencyBench
{
    public static bool IsTrigger(string topic) => topic.EndsWith("/probe", StringComparison.Ordinal);

    public static string EchoOf(string topic) => "echo/" + topic.Split('/')[1];
}
