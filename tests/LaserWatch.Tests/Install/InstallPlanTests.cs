using LaserWatch.Configuration;

namespace LaserWatch.Install;

/// <summary>To write the golden files anew after a change of the plan, run these tests with LASERWATCH_REWRITE_GOLDEN=1.</summary>
public sealed class InstallPlanTests
{
    private static readonly InstallLayout Linux = InstallLayout.Linux();
    private static readonly InstallLayout Windows = InstallLayout.Windows(@"C:\Program Files", @"C:\ProgramData");

    private static readonly MachineFacts Installed = new()
    {
        HasUser = true, HasGroup = true, HasService = true, LinkTarget = Linux.Program, StoreVersion = 1, Present = All(Linux),
    };

    private static readonly MachineFacts InstalledOnWindows = new() { HasService = true, Present = All(Windows) };

    [Fact]
    public void A_first_installation_on_Linux() =>
        Golden("linux-first.txt", InstallPlan.For(new("/home/ana/laserwatch", Linux), new()));

    [Fact]
    public void An_upgrade_on_Linux_writes_nothing_of_the_shops_and_keeps_the_previous_program() =>
        Golden("linux-upgrade.txt", InstallPlan.For(new("/home/ana/laserwatch", Linux), Installed));

    [Fact]
    public void The_same_program_again_leaves_the_previous_one_for_going_back() =>
        Golden("linux-again.txt", InstallPlan.For(new("/home/ana/laserwatch", Linux) { Start = false }, Installed with { IsSameProgram = true, StoreVersion = null }));

    [Fact]
    public void Staged_under_a_folder_no_user_is_made_and_nothing_is_run()
    {
        var plan = InstallPlan.For(new("/build/laserwatch", Linux) { IsStaged = true }, new());

        Golden("linux-staged.txt", plan);
        Assert.Empty(plan.OfType<CommandStep>());
    }

    [Fact]
    public void A_first_installation_on_Windows() =>
        Golden("windows-first.txt", WindowsInstallPlan.For(new(@"D:\laserwatch.exe", Windows), new()));

    [Fact]
    public void An_upgrade_on_Windows_stops_the_service_before_its_program_is_renamed() =>
        Golden("windows-upgrade.txt", WindowsInstallPlan.For(new(@"D:\laserwatch.exe", Windows), InstalledOnWindows));

    [Fact]
    public void Uninstalling_keeps_what_cannot_be_made_again() =>
        Golden("linux-uninstall.txt", UninstallPlan.For(Linux, Installed, staged: false, purge: false));

    [Fact]
    public void Purging_leaves_nothing() =>
        Golden("linux-purge.txt", UninstallPlan.For(Linux, Installed, staged: false, purge: true));

    [Fact]
    public void Uninstalling_on_Windows() =>
        Golden("windows-uninstall.txt", UninstallPlan.For(Windows, InstalledOnWindows, staged: false, purge: false));

    [Fact]
    public void A_program_on_Windows_cannot_remove_itself_and_says_so()
    {
        var plan = UninstallPlan.For(Windows, InstalledOnWindows with { RunsInstalledProgram = true }, staged: false, purge: false);

        Assert.Contains(plan, step => step is NoteStep note && note.Note.Contains(@"delete C:\Program Files\LaserWatch by hand", StringComparison.Ordinal));
        Assert.DoesNotContain(plan, step => step is RemoveStep);
    }

    [Fact]
    public void Where_nothing_is_installed_there_is_nothing_to_remove() =>
        Assert.Equal("note     LaserWatch is not installed here: there is nothing to remove", Assert.Single(UninstallPlan.For(Linux, new(), false, true)).Text);

    [Fact]
    public void A_name_in_the_path_that_is_another_programs_stays()
    {
        var plan = InstallPlan.For(new("/home/ana/laserwatch", Linux), new() { LinkTarget = "/usr/games/laserwatch" });

        Assert.Empty(plan.OfType<LinkStep>());
        Assert.DoesNotContain(
            UninstallPlan.For(Linux, Installed with { LinkTarget = "/usr/games/laserwatch" }, false, false), step => step is RemoveStep { Path: "/usr/local/bin/laserwatch" });
    }

    [Fact]
    public void A_configuration_is_not_taken_over_where_one_is()
    {
        var taken = new TakenConfiguration("{}", [], []);

        var refused = Assert.Throws<InstallException>(() => InstallPlan.For(new("/home/ana/laserwatch", Linux) { Configuration = taken }, Installed));

        Assert.True(refused.IsUsage);
        Assert.Equal("/etc/laserwatch/laserwatch.json is there already, and is never overwritten: leave --config out to keep it, or move it away first.", refused.Message);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void The_written_configuration_is_the_example_with_its_store_and_log_in_their_own_folders(bool windows)
    {
        var layout = windows ? Windows : Linux;
        var folder = Directory.CreateTempSubdirectory("laserwatch-install-");
        try
        {
            var file = Path.Combine(folder.FullName, "laserwatch.json");
            File.WriteAllText(file, ShippedFiles.Configuration(layout));
            File.WriteAllText(Path.Combine(folder.FullName, "jobs.json"), ShippedFiles.Read("jobs.json"));
            var read = ConfigurationFile.Read(file);

            Assert.Empty(read.Mistakes);
            Assert.EndsWith(layout.Store, read.Value!.Store.Path, StringComparison.Ordinal);
            Assert.EndsWith(layout.LogFolder, read.Value.Log.Folder, StringComparison.Ordinal);
            Assert.Equal(["bay1"], read.Value.Machines.Keys);
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static HashSet<string> All(InstallLayout layout) =>
    [
        layout.ProgramFolder, layout.Program, layout.ConfigurationFolder, layout.StateFolder, layout.LogFolder, layout.CacheFolder,
        .. ShippedFiles.Examples.Select(name => layout.Join(layout.ConfigurationFolder, name)),
    ];

    private static void Golden(string name, IReadOnlyList<InstallStep> plan)
    {
        var text = string.Concat(plan.Select(step => step.Text + "\n"));
        var path = Path.Combine(Repository.Folder, "tests", "LaserWatch.Tests", "Install", "Golden", name);
        if (Environment.GetEnvironmentVariable("LASERWATCH_REWRITE_GOLDEN") == "1")
            File.WriteAllText(path, text);
        Assert.Equal(File.ReadAllText(path), text);
    }
}
