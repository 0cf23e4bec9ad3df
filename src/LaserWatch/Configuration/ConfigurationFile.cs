using LaserWatch.Delivery;
using LaserWatch.Storage.Influx;

namespace LaserWatch.Configuration;

/// <summary>Reads <c>laserwatch.json</c>: a value that can be relied on, or all mistakes at once.</summary>
public static class ConfigurationFile
{
    /// <summary>A configuration larger than this is another file named by mistake.</summary>
    public const int MostBytes = 4 * 1024 * 1024;

    /// <summary>Reads and checks the file, and with it its secrets, the job records and the files it names. Paths in the result are absolute.</summary>
    public static ConfigurationRead<LaserWatchOptions> Read(string path) => Read(path, Environment.GetEnvironmentVariable);

    /// <summary>As <see cref="Read(string)"/>, without the secrets: for a person who shares the agent's file and not its passwords.</summary>
    public static ConfigurationRead<LaserWatchOptions> ReadAsPerson(string path) => Read(path, null);

    /// <param name="environment">Gives the value of an environment variable, or null; null itself: secrets are not looked at.</param>
    internal static ConfigurationRead<LaserWatchOptions> Read(string path, Func<string, string?>? environment)
    {
        var mistakes = new List<ConfigurationMistake>();
        LaserWatchOptions? options = null;
        if (ReadNodes(path, mistakes) is { } root)
        {
            var reader = new RecordReader(path, mistakes);
            options = reader.Read<LaserWatchOptions>(WithRulesOfTheShop(root))?.RelativeTo(FolderOf(path));
            CheckOutside(reader, path, environment, mistakes);
            options = WithJobs(options, root, path, mistakes);
            options = WithCauses(options, root, path, mistakes);
        }

        // A mistake in the shop's rules shows again in every machine that they are merged into, at the same place.
        mistakes = [.. mistakes.Distinct().OrderBy(m => m.File == path ? 0 : 1).ThenBy(m => m.Line)];
        return new(path, mistakes.Count == 0 ? options : null, mistakes);
    }

    /// <summary>The file as nodes; null with mistakes where it cannot be read or is not JSON.</summary>
    internal static ConfigurationNode? ReadNodes(string path, List<ConfigurationMistake> mistakes)
    {
        try
        {
            var file = new FileInfo(path);
            if (file.Length <= MostBytes)
                return ConfigurationText.Parse(path, File.ReadAllBytes(path), mistakes);
            mistakes.Add(new(path, "", 0, $"the file is larger than {MostBytes / 1024 / 1024} MiB", "name the configuration file"));
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException)
        {
            mistakes.Add(new(path, "", 0, "there is no such file", "name one that is there, or copy config/laserwatch.json and change it"));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
        {
            mistakes.Add(new(path, "", 0, $"the file cannot be read ({e.Message.TrimEnd('.')})", "let the agent's user read it"));
        }

        return null;
    }

    /// <summary>The job records are read even where the rest has mistakes, so that theirs are told too.</summary>
    private static LaserWatchOptions? WithJobs(
        LaserWatchOptions? options, ConfigurationNode root, string path, List<ConfigurationMistake> mistakes)
    {
        var named = root["jobsFile"];
        if (named is not null && (named.Kind != NodeKind.Text || mistakes.Exists(m => m.Path == named.Path)))
            return options; // what stands there was told already
        var file = Path.GetFullPath(named?.Text ?? LaserWatchOptions.Default.JobsFile, FolderOf(path));
        if (File.Exists(file))
        {
            var jobs = JobsFile.Read(file);
            mistakes.AddRange(jobs.Mistakes);
            return jobs.Value is { } records && options is not null ? options with { JobRecords = records } : null;
        }

        if (named is not null)
            mistakes.Add(new(path, named.Path, named.Line, $"there is no file '{file}'", "name one that is there, or leave the key out"));
        return options;
    }

    private static LaserWatchOptions? WithCauses(
        LaserWatchOptions? options, ConfigurationNode root, string path, List<ConfigurationMistake> mistakes)
    {
        if (root["diagnosis"]?["causes"] is not { Kind: NodeKind.Text } named || mistakes.Exists(m => m.Path == named.Path))
            return options;
        var file = Path.GetFullPath(named.Text, FolderOf(path));
        if (!File.Exists(file))
        {
            mistakes.Add(new(path, named.Path, named.Line, $"there is no file '{file}'", "name one that is there, or leave the key out"));
            return options;
        }

        var causes = CausesFile.Read(file);
        mistakes.AddRange(causes.Mistakes);
        return options is null ? null : options with { Causes = causes.Value };
    }

    private static string FolderOf(string path) => Path.GetDirectoryName(Path.GetFullPath(path))!;

    /// <summary>Lays each machine's rules over the shop's, so that bounds are checked on what will be in force.</summary>
    private static ConfigurationNode WithRulesOfTheShop(ConfigurationNode root)
    {
        if (root["rules"] is not { Kind: NodeKind.Object } shop || root["machines"] is not { Kind: NodeKind.Object } machines)
            return root;
        var merged = new ConfigurationNode(NodeKind.Object, machines.Path, machines.Line);
        foreach (var (name, line, machine) in machines.Members)
        {
            if (machine["rules"] is not { Kind: NodeKind.Object } own)
            {
                merged.Members.Add((name, line, machine));
                continue;
            }

            var whole = new ConfigurationNode(NodeKind.Object, machine.Path, machine.Line);
            whole.Members.AddRange(machine.Members.Select(m => m.Key == "rules" ? (m.Key, m.Line, shop.With(own)) : m));
            merged.Members.Add((name, line, whole));
        }

        var result = new ConfigurationNode(NodeKind.Object, root.Path, root.Line);
        result.Members.AddRange(root.Members.Select(m => m.Key == "machines" ? (m.Key, m.Line, merged) : m));
        return result;
    }

    /// <summary>What the file points to must be there now, not only when it is first needed.</summary>
    private static void CheckOutside(
        RecordReader reader, string path, Func<string, string?>? environment, List<ConfigurationMistake> mistakes)
    {
        var folder = FolderOf(path);
        foreach (var (record, node) in reader.Made)
        {
            if (record is Secret secret)
            {
                // That of the command line is read by who gives a command; the agent has no use for it.
                if (environment is null || node.Path == "commands.password")
                    continue;
                (secret with { File = secret.File is null ? null : Path.GetFullPath(secret.File, folder) }).Read(environment, out var wrong);
                if (wrong is not null)
                    Add(node, wrong);
            }
            else if (record is InfluxOptions { CaFile: { } authority } && !File.Exists(Path.GetFullPath(authority, folder)))
            {
                Add(node, new("caFile", $"there is no file '{Path.GetFullPath(authority, folder)}'", "name one that is there"));
            }
            else if (record is WebhookOptions { CaFile: { } voucher } && !File.Exists(Path.GetFullPath(voucher, folder)))
            {
                Add(node, new("caFile", $"there is no file '{Path.GetFullPath(voucher, folder)}'", "name one that is there"));
            }
            else if (record is MailOptions { CaFile: { } mailVoucher } && !File.Exists(Path.GetFullPath(mailVoucher, folder)))
            {
                Add(node, new("caFile", $"there is no file '{Path.GetFullPath(mailVoucher, folder)}'", "name one that is there"));
            }
            else if (record is HookOptions hook && !File.Exists(hook.Executable))
            {
                Add(node, new("executable", $"there is no file '{hook.Executable}'", "name a program that is there"));
            }
            else if (record is ConfiguredServerTls server && environment is not null)
            {
                foreach (var (member, file) in new[] { ("certificateFile", server.CertificateFile), ("keyFile", server.KeyFile), ("clientCaFile", server.ClientCaFile) })
                {
                    if (file is not null && !File.Exists(Path.GetFullPath(file, folder)))
                        Add(node, new(member, $"there is no file '{Path.GetFullPath(file, folder)}'", "name one that is there"));
                }
            }
            else if (record is ConfiguredTls tls && environment is not null)
            {
                foreach (var (member, file) in new[] { ("caFile", tls.CaFile), ("certificateFile", tls.CertificateFile), ("keyFile", tls.KeyFile) })
                {
                    if (file is not null && !File.Exists(Path.GetFullPath(file, folder)))
                        Add(node, new(member, $"there is no file '{Path.GetFullPath(file, folder)}'", "name one that is there"));
                }
            }
        }

        void Add(ConfigurationNode node, OptionMistake wrong) =>
            mistakes.Add(new(path, node.PathOf(wrong.Member), node.Nearest(wrong.Member).Line, wrong.What, wrong.Mend));
    }
}
