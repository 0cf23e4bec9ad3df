using System.Runtime.InteropServices;

namespace LaserWatch;

/// <summary>How the agent makes files and folders of its own: for its user and group, and nobody else.</summary>
/// <remarks>On Windows nothing is done here: a file there has the rights of its folder, which is the installer's to choose.</remarks>
internal static class OwnFiles
{
    private const UnixFileMode FileRights = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.GroupWrite;
    private const UnixFileMode FolderRights = FileRights | UnixFileMode.UserExecute | UnixFileMode.GroupExecute;
    private const UnixFileMode OthersRights = UnixFileMode.OtherRead | UnixFileMode.OtherWrite | UnixFileMode.OtherExecute;

    /// <summary>From now on no file of this process can be read by others, whoever makes it: the log's library, SQLite, anybody.</summary>
    /// <remarks>For the agent alone. What a person's command writes, a report or a recording, has the rights that the person's shell gives.</remarks>
    public static void ShutOthersOut()
    {
        if (OperatingSystem.IsWindows())
            return;

        // The mask can be asked for only by setting it; at the start no other thread makes files meanwhile.
        var before = SetMask((uint)OthersRights);
        _ = SetMask(before | (uint)OthersRights);
    }

    public static void MakeFolder(string path)
    {
        if (OperatingSystem.IsWindows())
            Directory.CreateDirectory(path);
        else
            Directory.CreateDirectory(path, FolderRights);
    }

    /// <summary>A new file, or an old one emptied.</summary>
    public static FileStream Create(string path) => Open(path, FileMode.Create, FileAccess.Write, FileShare.None);

    public static FileStream OpenOrCreate(string path, FileShare share) => Open(path, FileMode.OpenOrCreate, FileAccess.ReadWrite, share);

    /// <summary>As chmod takes it, <c>0644</c>; null on Windows, and where there is no such file.</summary>
    public static string? ModeOf(string path) =>
        OperatingSystem.IsWindows() || !File.Exists(path) ? null : "0" + Convert.ToString((int)File.GetUnixFileMode(path), 8).PadLeft(3, '0');

    /// <summary>Users beyond owner and group may read or write it.</summary>
    public static bool IsOpenToOthers(string path) =>
        !OperatingSystem.IsWindows() && File.Exists(path) && (File.GetUnixFileMode(path) & (UnixFileMode.OtherRead | UnixFileMode.OtherWrite)) != 0;

    private static FileStream Open(string path, FileMode mode, FileAccess access, FileShare share)
    {
        var options = new FileStreamOptions { Mode = mode, Access = access, Share = share };
        if (!OperatingSystem.IsWindows())
            options.UnixCreateMode = FileRights;
        return new FileStream(path, options);
    }

    [DllImport("libc", EntryPoint = "umask")]
    private static extern uint SetMask(uint mask);
}
