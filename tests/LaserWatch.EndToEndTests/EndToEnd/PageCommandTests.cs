using System.Diagnostics;
using LaserWatch.EndToEnd;

namespace LaserWatch.Pages;

/// <summary>Every command of a page is run as it stands there, in the order of the page.</summary>
public sealed class PageCommandTests(TwoYears years) : IClassFixture<TwoYears>
{
    /// <summary>Pages that have commands to run.</summary>
    public static TheoryData<string> Pages => [.. PageBlock.Pages.Where(page => PageBlock.Read(page).Any(b => b.IsShell && b.ByHand is null))];

    [SkippableTheory]
    [MemberData(nameof(Pages))]
    public async Task The_commands_of_a_page_work(string page)
    {
        Skip.If(OperatingSystem.IsWindows(), "The pages show commands of a Unix shell.");
        var blocks = PageBlock.Read(page).Where(b => b.IsShell && b.ByHand is null).ToList();
        if (blocks.Exists(b => b.Text.Contains("mosquitto_", StringComparison.Ordinal)))
            Needs.Program("mosquitto_pub");

        var folder = years.FolderOf(page);
        var agents = new List<AgentProcess>();
        try
        {
            foreach (var block in blocks)
            {
                if (block.IsBackground)
                {
                    agents.Add(AgentProcess.StartProgram("bash", "-euc", Script(folder, "exec " + block.Text)));
                    await agents[^1].SaysAsync("The embedded broker listens");
                    continue;
                }

                var start = new ProcessStartInfo("bash", ["-euc", Script(folder, block.Text)]);
                var (exit, output, error) = await EndedProgram.RunAsync(start, TimeSpan.FromMinutes(2));
                Assert.True(exit == block.ExitStatus, $"{block}: exit status {exit}\n{output}\n{error}");
            }
        }
        finally
        {
            agents.ForEach(agent => agent.Dispose());
        }
    }

    private string Script(string folder, string commands) => $"cd '{folder}'; export PATH='{years.Programs}':$PATH; {commands}";
}
