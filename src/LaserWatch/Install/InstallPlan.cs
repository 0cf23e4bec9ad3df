namespace LaserWatch.Install;

/// <summary>The steps that install or upgrade the agent on Linux with systemd. Computes, and touches nothing.</summary>
/// <remarks>Each step may be done again: an installation that broke off is mended by running it anew.</remarks>
public static class InstallPlan
{
    private const UnixFileMode Everybody0755 =
        UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute | UnixFileMode.GroupRead | UnixFileMode.GroupExecute |
        UnixFileMode.OtherRead | UnixFileMode.OtherExecute;

    private const UnixFileMode File0644 = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.OtherRead;
    private const UnixFileMode File0640 = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead;
    private const UnixFileMode Folder0750 = File0640 | UnixFileMode.UserExecute | UnixFileMode.GroupExecute;
    private const UnixFileMode Folder0770 = Folder0750 | UnixFileMode.GroupWrite;

    /// <exception cref="InstallException">It would overwrite what is the shop's.</exception>
    public static IReadOnlyList<InstallStep> For(InstallRequest request, MachineFacts facts)
    {
        var steps = new List<InstallStep>();
        AddAccount(steps, request, facts);
        AddProgram(steps, request, facts);
        AddConfiguration(steps, request, facts);
        AddFolders(steps, request);
        var layout = request.Layout;
        steps.Add(new FileStep(layout.Unit!, SystemdUnit.Text(layout, request.Configuration?.WritableFolders ?? facts.WritableFolders), File0644));
        AddStart(steps, request, facts);
        return steps;
    }

    private static void AddAccount(List<InstallStep> steps, InstallRequest request, MachineFacts facts)
    {
        const string Account = InstallLayout.Account;
        if (request.IsStaged)
        {
            steps.Add(new NoteStep($"staged under a folder: no user is made, nothing is given to another owner, and systemctl is not called; the system user and group '{Account}' must be there where it runs"));
            return;
        }

        if (!facts.HasGroup)
            steps.Add(new CommandStep("groupadd", ["--system", Account]));
        if (!facts.HasUser)
        {
            steps.Add(new CommandStep(
                "useradd",
                ["--system", "--gid", Account, "--home-dir", request.Layout.StateFolder, "--no-create-home", "--shell", "/usr/sbin/nologin", Account]));
        }
    }

    internal static void AddProgram(List<InstallStep> steps, InstallRequest request, MachineFacts facts)
    {
        var layout = request.Layout;
        UnixFileMode? mode = layout.Unit is null ? null : Everybody0755;
        steps.Add(new FolderStep(layout.ProgramFolder, mode));
        if (facts.IsSameProgram)
        {
            steps.Add(new NoteStep($"{layout.Program} is this program already"));
        }
        else
        {
            if (facts.Present.Contains(layout.Program))
                steps.Add(new KeepStep(layout.Program, layout.Previous));
            steps.Add(new CopyStep(request.Program, layout.Program, mode));
        }

        if (layout.Link is not { } link)
            return;
        if (facts.LinkTarget is null || facts.LinkTarget == layout.Program)
            steps.Add(new LinkStep(link, layout.Program));
        else
            steps.Add(new NoteStep($"{link} is something else and stays: call {layout.Program} by its full name"));
    }

    private static void AddConfiguration(List<InstallStep> steps, InstallRequest request, MachineFacts facts)
    {
        var layout = request.Layout;
        var owner = request.IsStaged ? null : $"root:{InstallLayout.Account}";
        steps.Add(new FolderStep(layout.ConfigurationFolder, Folder0750, owner));
        foreach (var (name, content, from) in ConfigurationFiles(request, facts))
        {
            var path = layout.Join(layout.ConfigurationFolder, name);
            if (content is null && from is null)
                steps.Add(new NoteStep($"{path} is there and stays as it is"));
            else if (from is not null)
                steps.Add(new CopyStep(from, path, File0640, owner));
            else
                steps.Add(new FileStep(path, content!, File0640, owner));
        }
    }

    /// <summary>What comes into the configuration folder: a name and its text, or a file to copy; neither: it is there and stays.</summary>
    internal static IEnumerable<(string Name, string? Content, string? From)> ConfigurationFiles(InstallRequest request, MachineFacts facts)
    {
        var layout = request.Layout;
        if (request.Configuration is { } taken)
        {
            if (IsPresent("laserwatch.json"))
            {
                throw new InstallException(
                    $"{layout.Configuration} is there already, and is never overwritten: leave --config out to keep it, or move it away first.", isUsage: true);
            }

            yield return ("laserwatch.json", taken.Text, null);
            foreach (var (from, relative) in taken.Files)
                yield return IsPresent(relative) ? (relative, null, null) : (relative, null, from);
        }
        else
        {
            foreach (var name in ShippedFiles.Examples)
                yield return (name, IsPresent(name) ? null : name == "laserwatch.json" ? ShippedFiles.Configuration(layout) : ShippedFiles.Read(name), null);
        }

        foreach (var name in ShippedFiles.Schemas)
            yield return (name, ShippedFiles.Read(name), null);

        bool IsPresent(string name) => facts.Present.Contains(layout.Join(layout.ConfigurationFolder, name));
    }

    private static void AddFolders(List<InstallStep> steps, InstallRequest request)
    {
        var layout = request.Layout;
        var owner = request.IsStaged ? null : $"{InstallLayout.Account}:{InstallLayout.Account}";
        steps.Add(new FolderStep(layout.StateFolder, Folder0770, owner));
        steps.Add(new FolderStep(layout.LogFolder, Folder0750, owner));
        steps.Add(new FolderStep(layout.CacheFolder, Folder0750, owner));
        foreach (var folder in request.Configuration?.WritableFolders ?? [])
            steps.Add(new NoteStep($"the agent must be able to write in {folder}: make it, and give it to {InstallLayout.Account}"));
    }

    private static void AddStart(List<InstallStep> steps, InstallRequest request, MachineFacts facts)
    {
        var layout = request.Layout;
        if (!request.IsStaged)
        {
            steps.Add(new CommandStep("systemctl", ["daemon-reload"]));
            steps.Add(new CommandStep("systemctl", ["enable", "laserwatch.service"]));
            if (request.Start)
                steps.Add(new CommandStep("systemctl", ["restart", "laserwatch.service"]));
            else
                steps.Add(new NoteStep(facts.HasService ? "not restarted: the former program goes on until 'systemctl restart laserwatch'" : "not started: 'systemctl start laserwatch' does, and so does the next boot"));
        }

        if (request is { IsStaged: false, Start: true })
            steps.Add(new NoteStep("what it says: systemctl status laserwatch, journalctl -u laserwatch"));
        steps.AddRange(ClosingNotes(request, facts, $"mv {layout.Previous} {layout.Program} && systemctl restart laserwatch"));
    }

    /// <param name="back">The commands that put the previous program back.</param>
    internal static IEnumerable<InstallStep> ClosingNotes(InstallRequest request, MachineFacts facts, string back)
    {
        var layout = request.Layout;
        if (request.Configuration is null && !facts.Present.Contains(layout.Configuration))
            yield return new NoteStep($"the machine 'bay1' and the jobs in {layout.ConfigurationFolder} are examples: write your own, and ask 'laserwatch check --config {layout.Configuration}'");
        if (!facts.IsSameProgram && facts.Present.Contains(layout.Program))
            yield return new NoteStep($"to go back: {back}");
        if (facts.StoreVersion is { } version && version < Storage.Sqlite.Schema.Version)
            yield return new NoteStep($"the store was written by an older program (its tables are version {version}, this program needs {Storage.Sqlite.Schema.Version}) and is refused at the next start: before that, write each machine's recording with the previous program (laserwatch record), move the store away, and keep the recordings in a new one (laserwatch replay RECORDING --store FILE)");
    }
}
