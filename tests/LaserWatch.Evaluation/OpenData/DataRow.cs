using System.Text;

namespace LaserWatch.Evaluation.OpenData;

/// <summary>What was made of one open data set.</summary>
/// <param name="How">Which rule or detector judged it, and how its quantities stand for ours.</param>
/// <param name="Beside">A published figure or the truth, to compare with.</param>
internal sealed record DataRow(string Set, string What, string How, string Result, string Beside)
{
    /// <summary>The table of all sets, as Markdown; says so where the data are not there.</summary>
    public static string Table(string? folder)
    {
        var text = new StringBuilder("## Open data\n\n");
        text.Append("There is no real, labelled, public set of air-pressure faults during a job: pressure detection is judged on simulation alone.\n\n");
        if (folder is null)
            return text.Append($"Not judged: {OpenDataFolder.Missing}.\n").ToString();
        text.Append("| set | what | judged by | result | beside it |\n|---|---|---|---|---|\n");
        foreach (var row in All(folder))
            text.Append("| ").AppendJoin(" | ", row.Set, row.What, row.How, row.Result, row.Beside).Append(" |\n");
        return text.ToString();
    }

    private static IEnumerable<DataRow> All(string folder)
    {
        (string Set, Func<string, IEnumerable<DataRow>> Judge)[] sets =
        [
            ("skab", GenericSets.PumpLoop), ("nab", GenericSets.MachineRoom), ("occupancy", MappedSets.OfficeRoom), ("lbnl", MappedSets.Duct),
            ("fuelcell", MappedSets.FuelCell), ("tep_simulated", GenericSets.Process), ("extra", GenericSets.River),
        ];
        foreach (var (set, judge) in sets)
        {
            var path = Path.Combine(folder, set);
            if (!Directory.Exists(path))
            {
                yield return new DataRow(set, "", "", "not judged: the set is not there", "");
                continue;
            }

            foreach (var row in judge(path))
                yield return row;
        }
    }
}
