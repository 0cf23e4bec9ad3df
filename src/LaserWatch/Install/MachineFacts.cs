using LaserWatch.Configuration;
using LaserWatch.Storage.Sqlite;

namespace LaserWatch.Install;

/// <summary>What a plan must know of the machine: looked up once, so that planning itself touches nothing.</summary>
public sealed record MachineFacts
{
    public bool HasUser { get; init; }

    public bool HasGroup { get; init; }

    /// <summary>The service is known to the system: its unit, or its entry at the service control manager.</summary>
    public bool HasService { get; init; }

    /// <summary>The program to install is the one that stands there already.</summary>
    public bool IsSameProgram { get; init; }

    /// <summary>The process that asks is the installed program itself.</summary>
    public bool RunsInstalledProgram { get; init; }

    /// <summary>What the shell's name for the program points to; null: nothing has that name. A file that is no link points to itself.</summary>
    public string? LinkTarget { get; init; }

    /// <summary>Version of the tables in the store; null: there is no store.</summary>
    public int? StoreVersion { get; init; }

    /// <summary>Files and folders of the layout that are there, by their final paths.</summary>
    public IReadOnlySet<string> Present { get; init; } = new HashSet<string>();

    /// <summary>Folders besides the service's own that the configuration which is there makes the agent write to.</summary>
    public IReadOnlyList<string> WritableFolders { get; init; } = [];

    /// <summary>For an installation: all of it, the store's version and the configuration too.</summary>
    /// <param name="root">The folder all is staged under; null: the machine itself.</param>
    /// <exception cref="Storage.StoreException">The store was written by a newer program, or is none.</exception>
    public static MachineFacts Look(InstallLayout layout, string? root, string program)
    {
        // It may be broken, as the newer program may be what understands it.
        var file = Staging.Place(root, layout.Configuration);
        var options = File.Exists(file) ? ConfigurationFile.Read(file).Value : null;
        var store = Staging.Place(root, options?.Store.Path ?? layout.Store);
        return Look(layout, root) with
        {
            IsSameProgram = File.Exists(Staging.Place(root, layout.Program)) && SameBytes(program, Staging.Place(root, layout.Program)),
            StoreVersion = File.Exists(store) ? StoreFile.VersionOf(store) : null,
            WritableFolders = options is null ? [] : TakenConfiguration.FoldersOutside(options, layout),
        };
    }

    /// <summary>What stands where.</summary>
    public static MachineFacts Look(InstallLayout layout, string? root)
    {
        var known = new[]
        {
            layout.ProgramFolder, layout.Program, layout.Previous, layout.ConfigurationFolder, layout.StateFolder, layout.LogFolder,
            layout.CacheFolder, layout.Unit,
        }.Concat(ShippedFiles.Names.Select(name => layout.Join(layout.ConfigurationFolder, name)));
        var present = known.OfType<string>().Where(path => Path.Exists(Staging.Place(root, path))).ToHashSet(StringComparer.Ordinal);
        return new()
        {
            HasUser = Named("/etc/passwd"),
            HasGroup = Named("/etc/group"),
            HasService = layout.Unit is { } unit ? present.Contains(unit) : IsRegistered(),
            RunsInstalledProgram = Environment.ProcessPath == Staging.Place(root, layout.Program),
            LinkTarget = LinkTargetOf(layout, root),
            Present = present,
        };
    }

    /// <summary>As sd_booted(3) tells it.</summary>
    public static bool IsRunBySystemd() => Directory.Exists("/run/systemd/system");

    // A system account that useradd made stands in the file, whatever directory knows the people.
    private static bool Named(string file) =>
        File.Exists(file) && File.ReadLines(file).Any(line => line.StartsWith(InstallLayout.Account + ":", StringComparison.Ordinal));

    private static bool IsRegistered()
    {
        if (!OperatingSystem.IsWindows())
            return false;
        using var key = Microsoft.Win32.Registry.LocalMachine.OpenSubKey(@"SYSTEM\CurrentControlSet\Services\" + InstallLayout.WindowsService);
        return key is not null;
    }

    private static string? LinkTargetOf(InstallLayout layout, string? root)
    {
        if (layout.Link is not { } link)
            return null;
        var file = new FileInfo(Staging.Place(root, link));
        return file.LinkTarget ?? (file.Exists ? link : null);
    }

    private static bool SameBytes(string one, string other)
    {
        if (new FileInfo(one).Length != new FileInfo(other).Length)
            return false;
        using var first = File.OpenRead(one);
        using var second = File.OpenRead(other);
        return System.Security.Cryptography.SHA256.HashData(first).AsSpan().SequenceEqual(System.Security.Cryptography.SHA256.HashData(second));
    }
}
