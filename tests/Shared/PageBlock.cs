using LaserWatch.Configuration;

namespace LaserWatch.Pages;

/// <summary>One fenced block of a page.</summary>
/// <param name="Line">Of the fence, from 1.</param>
/// <param name="Info">What stands behind the fence: <c>sh</c>, <c>sh background</c>, <c>sh ends with 1: REASON</c>, <c>sh by hand: REASON</c>, <c>json</c> or nothing.</param>
internal sealed record PageBlock(string Page, int Line, string Info, string Text)
{
    private const string Fence = "```";

    /// <summary>The pages a person reads, from the repository's folder.</summary>
    public static IReadOnlyList<string> Pages { get; } =
    [
        "README.md", "DEVELOPERS.md", "docker/README.md", "tests/LaserWatch.Evaluation/README.md", "tests/LaserWatch.Benchmarks/README.md",
        .. Directory.EnumerateFiles(Path.Combine(Repository.Folder, "config"), "*.md").Select(file => "config/" + Path.GetFileName(file)).Order(StringComparer.Ordinal),
    ];

    public bool IsShell => Info == "sh" || Info.StartsWith("sh ", StringComparison.Ordinal);

    public bool IsBackground => Info == "sh background";

    /// <summary>Why nobody runs it here; null where it is run.</summary>
    public string? ByHand => Info.StartsWith("sh by hand: ", StringComparison.Ordinal) ? Info["sh by hand: ".Length..] : null;

    /// <summary>The exit status that the page promises: <c>sh ends with 1: REASON</c>; else 0.</summary>
    public int ExitStatus => Info.StartsWith("sh ends with 1: ", StringComparison.Ordinal) ? 1 : 0;

    public override string ToString() => $"{Page}:{Line}";

    public static IReadOnlyList<PageBlock> Read(string page)
    {
        var blocks = new List<PageBlock>();
        var lines = File.ReadAllLines(Path.Combine(Repository.Folder, page));
        for (var begin = 0; begin < lines.Length; begin++)
        {
            if (!lines[begin].TrimStart().StartsWith(Fence, StringComparison.Ordinal))
                continue;
            var indent = lines[begin].IndexOf(Fence, StringComparison.Ordinal);
            var end = Array.FindIndex(lines, begin + 1, line => line.Trim() == Fence);
            Assert.True(end > begin, $"{page}:{begin + 1}: the block has no end.");
            var text = lines[(begin + 1)..end].Select(line => line.Length > indent ? line[indent..] : "");
            blocks.Add(new(page, begin + 1, lines[begin].Trim()[Fence.Length..].Trim(), string.Join('\n', text) + "\n"));
            begin = end;
        }

        return blocks;
    }
}
