using System.ComponentModel;
using System.Diagnostics;

namespace LaserWatch.Install;

/// <summary>Does the steps of a plan one after the other, and says each before it does it.</summary>
/// <param name="root">The folder all is staged under; null: the machine itself.</param>
/// <param name="talk">Takes what is done.</param>
public sealed class PlanRunner(string? root, TextWriter talk)
{
    private static readonly TimeSpan MostForACommand = TimeSpan.FromMinutes(35); // longer than the unit's own limit for a start

    /// <exception cref="InstallException">A step failed; those before it are done.</exception>
    public async Task RunAsync(IReadOnlyList<InstallStep> steps, CancellationToken stop)
    {
        foreach (var step in steps)
        {
            await talk.WriteLineAsync(step.Text);
            try
            {
                await DoAsync(step, stop);
            }
            catch (Exception fault) when (fault is IOException or UnauthorizedAccessException or Win32Exception or InstallException)
            {
                throw new InstallException($"'{step.Text}' failed: {fault.Message.TrimEnd('.')}. Mend that and run it again; what is done already does no harm twice.", cause: fault);
            }
        }
    }

    private async Task DoAsync(InstallStep step, CancellationToken stop)
    {
        switch (step)
        {
            case FolderStep folder:
                Directory.CreateDirectory(At(folder.Path));
                await GiveAsync(folder.Path, folder.Mode, folder.Owner, stop);
                break;
            case FileStep file:
                await PutAsync(file.Path, file.Mode, file.Owner, beside => File.WriteAllTextAsync(beside, file.Content, stop), stop);
                break;
            case CopyStep copy:
                await PutAsync(copy.Path, copy.Mode, copy.Owner, beside => CopyAsync(copy.From, beside, stop), stop);
                break;
            case KeepStep keep when File.Exists(At(keep.Path)):
                await KeepAsync(keep, stop);
                break;
            case LinkStep link:
                Directory.CreateDirectory(Path.GetDirectoryName(At(link.Path))!);
                File.Delete(At(link.Path));
                File.CreateSymbolicLink(At(link.Path), link.Target);
                break;
            case CommandStep command:
                await CallAsync(command, stop);
                break;
            case RemoveStep remove:
                File.Delete(At(remove.Path));
                break;
            case RemoveFolderStep folder when Directory.Exists(At(folder.Path)):
                if (folder.WithContent || !Directory.EnumerateFileSystemEntries(At(folder.Path)).Any())
                    Directory.Delete(At(folder.Path), folder.WithContent);
                break;
        }
    }

    private string At(string path) => Staging.Place(root, path);

    // Whoever looks sees the old file or the new one, never half of it; and never with other rights than it shall have.
    private async Task PutAsync(string path, UnixFileMode? mode, string? owner, Func<string, Task> write, CancellationToken stop)
    {
        Directory.CreateDirectory(Path.GetDirectoryName(At(path))!);
        var beside = path + ".new";
        var closed = new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write };
        if (mode is not null && !OperatingSystem.IsWindows())
            closed.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        File.Delete(At(beside));
        await using (new FileStream(At(beside), closed))
        {
        }

        try
        {
            await write(At(beside));
            await GiveAsync(beside, mode, owner, stop);
            using (var file = File.OpenHandle(At(beside), FileMode.Open, FileAccess.ReadWrite))
                RandomAccess.FlushToDisk(file);
            File.Move(At(beside), At(path), overwrite: true);
        }
        catch
        {
            File.Delete(At(beside));
            throw;
        }
    }

    // On Unix by a second name for the same file, so that there is no moment without a program.
    private async Task KeepAsync(KeepStep keep, CancellationToken stop)
    {
        if (OperatingSystem.IsWindows())
            File.Move(At(keep.Path), At(keep.Kept), overwrite: true);
        else
            await PutAsync(keep.Kept, File.GetUnixFileMode(At(keep.Path)), null, beside => CopyAsync(At(keep.Path), beside, stop), stop);
    }

    private static async Task CopyAsync(string from, string to, CancellationToken stop)
    {
        await using var source = new FileStream(from, FileMode.Open, FileAccess.Read, FileShare.Read, 1 << 20);
        await using var target = new FileStream(to, FileMode.Open, FileAccess.Write, FileShare.None, 1 << 20);
        await source.CopyToAsync(target, stop);
    }

    private async Task GiveAsync(string path, UnixFileMode? mode, string? owner, CancellationToken stop)
    {
        // The owner first: a change of it takes away rights on some systems.
        if (owner is not null)
            await CallAsync(new CommandStep("chown", [owner, At(path)]), stop);
        if (mode is { } bits && !OperatingSystem.IsWindows())
            File.SetUnixFileMode(At(path), bits);
    }

    private async Task CallAsync(CommandStep command, CancellationToken stop)
    {
        var start = new ProcessStartInfo(FullName(command.Program), command.Arguments) { RedirectStandardOutput = true, RedirectStandardError = true };
        using var process = Process.Start(start) ?? throw new InstallException($"{command.Program} did not start.");
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(stop);
        limit.CancelAfter(MostForACommand);
        var said = await Task.WhenAll(process.StandardOutput.ReadToEndAsync(limit.Token), process.StandardError.ReadToEndAsync(limit.Token));
        await process.WaitForExitAsync(limit.Token);
        var words = string.Join(' ', string.Concat(said).Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        if (process.ExitCode == 0)
            return;
        if (!command.MayFail)
            throw new InstallException($"it ended with status {process.ExitCode}{(words.Length == 0 ? "" : $" and said: {words}")}");
        await talk.WriteLineAsync($"         it ended with status {process.ExitCode}: {words}");
    }

    // The path that 'su' leaves has no folders of system programs.
    private static string FullName(string program)
    {
        if (OperatingSystem.IsWindows())
            return program;
        var folders = (Environment.GetEnvironmentVariable("PATH") ?? "").Split(':', StringSplitOptions.RemoveEmptyEntries);
        return folders.Concat(["/usr/local/sbin", "/usr/sbin", "/sbin", "/usr/bin", "/bin"]).Select(folder => Path.Combine(folder, program)).FirstOrDefault(File.Exists) ?? program;
    }
}
