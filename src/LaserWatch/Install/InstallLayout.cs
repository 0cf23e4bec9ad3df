namespace LaserWatch.Install;

/// <summary>Where everything stands on the machine. Paths are the final ones, whatever folder they are staged under.</summary>
/// <remarks>Joined here and not by <see cref="System.IO.Path"/>, so that the plan for one system can be looked at on another.</remarks>
public sealed record InstallLayout
{
    public const string Account = "laserwatch";

    /// <summary>The service's name for <c>sc.exe</c>, and its virtual account.</summary>
    public const string WindowsService = "LaserWatch";

    public const string WindowsAccount = @"NT SERVICE\" + WindowsService;

    private InstallLayout(char separator) => Separator = separator;

    public required string ProgramFolder { get; init; }

    public required string ProgramName { get; init; }

    public required string ConfigurationFolder { get; init; }

    public required string StateFolder { get; init; }

    public required string LogFolder { get; init; }

    /// <summary>Where the program unpacks its native libraries.</summary>
    public required string CacheFolder { get; init; }

    /// <summary>The systemd unit; null where there is none.</summary>
    public string? Unit { get; init; }

    /// <summary>The name under which a shell finds the program; null: none is made.</summary>
    public string? Link { get; init; }

    public char Separator { get; }

    public string Program => Join(ProgramFolder, ProgramName);

    /// <summary>The program that stood there before this one.</summary>
    public string Previous => Program + ".previous";

    public string Configuration => Join(ConfigurationFolder, "laserwatch.json");

    public string Store => Join(StateFolder, "laserwatch.db");

    public static InstallLayout Linux(string programFolder = "/opt/laserwatch") => new('/')
    {
        ProgramFolder = programFolder,
        ProgramName = "laserwatch",
        ConfigurationFolder = "/etc/laserwatch",
        StateFolder = "/var/lib/laserwatch",
        LogFolder = "/var/log/laserwatch",
        CacheFolder = "/var/cache/laserwatch",
        Unit = "/etc/systemd/system/laserwatch.service",
        Link = "/usr/local/bin/laserwatch",
    };

    /// <param name="programFiles">Such as <c>C:\Program Files</c>.</param>
    /// <param name="programData">Such as <c>C:\ProgramData</c>.</param>
    public static InstallLayout Windows(string programFiles, string programData, string? programFolder = null)
    {
        var data = programData + @"\LaserWatch";
        return new('\\')
        {
            ProgramFolder = programFolder ?? programFiles + @"\LaserWatch",
            ProgramName = "laserwatch.exe",
            ConfigurationFolder = data,
            StateFolder = data + @"\data",
            LogFolder = data + @"\log",
            CacheFolder = data + @"\native",
        };
    }

    public string Join(string folder, string name) => folder.TrimEnd(Separator) + Separator + name;

    /// <summary>True for a path in the folder, or the folder itself.</summary>
    public bool IsWithin(string path, string folder) =>
        path == folder || path.StartsWith(folder.TrimEnd(Separator) + Separator, StringComparison.Ordinal);
}
