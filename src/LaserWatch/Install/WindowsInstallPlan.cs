namespace LaserWatch.Install;

/// <summary>The steps that install or upgrade the agent as a Windows service under its virtual account.</summary>
public static class WindowsInstallPlan
{
    // By number: their names are translated.
    private const string System = "*S-1-5-18";
    private const string Administrators = "*S-1-5-32-544";

    /// <exception cref="InstallException">It would overwrite what is the shop's.</exception>
    public static IReadOnlyList<InstallStep> For(InstallRequest request, MachineFacts facts)
    {
        var layout = request.Layout;
        const string Name = InstallLayout.WindowsService;
        var steps = new List<InstallStep>();
        // A program that runs can be renamed but not overwritten, and the previous one may be the one that runs.
        if (facts.HasService && !facts.IsSameProgram)
            steps.Add(new CommandStep("net.exe", ["stop", Name], MayFail: true));
        InstallPlan.AddProgram(steps, request, facts);
        AddService(steps, layout, facts);
        AddConfiguration(steps, request, facts);

        // The native libraries of the one file need a place.
        steps.Add(new CommandStep("reg.exe", [
            "add", @"HKLM\SYSTEM\CurrentControlSet\Services\" + Name, "/v", "Environment", "/t", "REG_MULTI_SZ", "/d",
            "DOTNET_BUNDLE_EXTRACT_BASE_DIR=" + layout.CacheFolder, "/f"]));
        if (request.Start)
            steps.Add(new CommandStep("net.exe", ["start", Name], MayFail: facts.HasService && facts.IsSameProgram));
        else
            steps.Add(new NoteStep($"not started: 'net start {Name}' does, and so does the next boot"));
        steps.AddRange(InstallPlan.ClosingNotes(request, facts, $"net stop {Name}; move \"{layout.Previous}\" \"{layout.Program}\"; net start {Name}"));
        return steps;
    }

    private static void AddService(List<InstallStep> steps, InstallLayout layout, MachineFacts facts)
    {
        const string Name = InstallLayout.WindowsService;
        // sc.exe takes each value as a word of its own after the key and its equals sign.
        steps.Add(new CommandStep("sc.exe", [
            facts.HasService ? "config" : "create", Name, "binPath=", $"\"{layout.Program}\" run --config \"{layout.Configuration}\"",
            "start=", "auto", "obj=", InstallLayout.WindowsAccount, "DisplayName=", Name]));
        steps.Add(new CommandStep("sc.exe", ["description", Name, "Watches laser cutters by their sensors. It advises; it is no safety device."]));
        steps.Add(new CommandStep("sc.exe", ["failure", Name, "reset=", "86400", "actions=", "restart/10000/restart/30000/restart/300000"]));
        steps.Add(new CommandStep("sc.exe", ["failureflag", Name, "1"]));
    }

    // After the service: its account has no name before.
    private static void AddConfiguration(List<InstallStep> steps, InstallRequest request, MachineFacts facts)
    {
        var layout = request.Layout;
        steps.Add(new FolderStep(layout.ConfigurationFolder));
        // Everybody may make files in a folder of ProgramData unless it is closed.
        steps.Add(new CommandStep("icacls.exe", [
            layout.ConfigurationFolder, "/inheritance:r", "/grant:r", System + ":(OI)(CI)F", Administrators + ":(OI)(CI)F",
            InstallLayout.WindowsAccount + ":(OI)(CI)RX"]));
        foreach (var (name, content, from) in InstallPlan.ConfigurationFiles(request, facts))
        {
            var path = layout.Join(layout.ConfigurationFolder, name);
            if (from is not null)
                steps.Add(new CopyStep(from, path));
            else
                steps.Add(content is null ? new NoteStep($"{path} is there and stays as it is") : new FileStep(path, content));
        }

        foreach (var folder in new[] { layout.StateFolder, layout.LogFolder, layout.CacheFolder })
        {
            steps.Add(new FolderStep(folder));
            steps.Add(new CommandStep("icacls.exe", [folder, "/grant", InstallLayout.WindowsAccount + ":(OI)(CI)M"]));
        }
    }
}
