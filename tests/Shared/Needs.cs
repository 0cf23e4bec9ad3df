using LaserWatch.Benchmarks.Speed;

namespace LaserWatch;

/// <summary>Skips a test, saying why, where something that it needs is not on this machine.</summary>
internal static class Needs
{
    /// <summary>The path of the program.</summary>
    public static string Program(string name) => There(Installed.Program(name), $"{name} is not installed");

    public static string Browser() => There(Installed.Browser(), "no Chromium is installed");

    /// <summary>The path of the published program that the variable names.</summary>
    public static string Published(string variable) => There(Installed.Published(variable), $"{variable} names no published program");

    public static void Docker()
    {
        if (Installed.IsHidden)
            There(null, "no Docker engine answers");
    }

    public static void Mosquitto()
    {
        Program("mosquitto");
        MosquittoClients();
    }

    public static void MosquittoClients()
    {
        Program("mosquitto_pub");
        Program("mosquitto_sub");
    }

    private static string There(string? found, string otherwise) =>
        found ?? throw new SkipException(Installed.IsHidden ? $"{otherwise} ({Installed.Switch} hides it)" : otherwise);
}
