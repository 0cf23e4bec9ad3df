namespace LaserWatch.Install;

/// <summary>The steps that take the agent off the machine. What a shop cannot make again stays unless it is purged.</summary>
public static class UninstallPlan
{
    /// <param name="staged">Only what stands under a folder; the machine itself is left alone.</param>
    public static IReadOnlyList<InstallStep> For(InstallLayout layout, MachineFacts facts, bool staged, bool purge)
    {
        var steps = new List<InstallStep>();
        if (layout.Unit is { } unit)
        {
            if (facts.HasService && !staged)
                steps.Add(new CommandStep("systemctl", ["disable", "--now", "laserwatch.service"]));
            if (facts.HasService)
                steps.Add(new RemoveStep(unit));
            if (facts.HasService && !staged)
                steps.Add(new CommandStep("systemctl", ["daemon-reload"]));
        }
        else if (facts.HasService)
        {
            // It answers with an error where the service does not run.
            steps.Add(new CommandStep("net.exe", ["stop", InstallLayout.WindowsService], MayFail: true));
            steps.Add(new CommandStep("sc.exe", ["delete", InstallLayout.WindowsService]));
        }

        if (layout.Link is { } link && facts.LinkTarget == layout.Program)
            steps.Add(new RemoveStep(link));
        // Windows does not let go of a program that runs.
        if (facts.RunsInstalledProgram && layout.Unit is null)
            steps.Add(new NoteStep($"{layout.Program} runs this very command: delete {layout.ProgramFolder} by hand"));
        else
            AddProgram(steps, layout, facts);
        if (facts.Present.Contains(layout.CacheFolder))
            steps.Add(new RemoveFolderStep(layout.CacheFolder, WithContent: true));
        AddData(steps, layout, facts, staged, purge);
        if (steps.Count == 0)
            steps.Add(new NoteStep("LaserWatch is not installed here: there is nothing to remove"));
        return steps;
    }

    private static void AddProgram(List<InstallStep> steps, InstallLayout layout, MachineFacts facts)
    {
        foreach (var file in new[] { layout.Program, layout.Previous }.Where(facts.Present.Contains))
            steps.Add(new RemoveStep(file));
        if (facts.Present.Contains(layout.ProgramFolder))
            steps.Add(new RemoveFolderStep(layout.ProgramFolder, WithContent: false));
    }

    private static void AddData(List<InstallStep> steps, InstallLayout layout, MachineFacts facts, bool staged, bool purge)
    {
        (string What, string Path)[] data = [("data and the key of its proofs", layout.StateFolder), ("logs", layout.LogFolder), ("configuration", layout.ConfigurationFolder)];
        foreach (var (what, path) in data.Where(each => facts.Present.Contains(each.Path)))
            steps.Add(purge ? new RemoveFolderStep(path, WithContent: true) : new NoteStep($"kept: {what} in {path}"));
        if (staged || layout.Unit is null)
            return;
        if (!purge && facts.HasUser)
            steps.Add(new NoteStep($"kept: the user {InstallLayout.Account}, to whom the data belongs"));
        if (purge && facts.HasUser)
            steps.Add(new CommandStep("userdel", [InstallLayout.Account]));
        // Where users have a group of their own name, userdel took it along.
        if (purge && facts.HasGroup)
            steps.Add(new CommandStep("groupdel", [InstallLayout.Account], MayFail: true));
    }
}
