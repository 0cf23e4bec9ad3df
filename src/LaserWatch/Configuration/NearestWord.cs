namespace LaserWatch.Configuration;

/// <summary>Finds the word somebody probably meant.</summary>
internal static class NearestWord
{
    /// <summary>The candidate the fewest edits away, if those are at most two and a third of the word; else null.</summary>
    public static string? To(string word, IEnumerable<string> candidates)
    {
        var folded = Fold(word);
        string? nearest = null;
        var least = int.MaxValue;
        foreach (var candidate in candidates)
        {
            var edits = Edits(folded, Fold(candidate));
            if (edits < least)
                (nearest, least) = (candidate, edits);
        }

        return least <= Math.Max(2, word.Length / 3) && least < word.Length ? nearest : null;
    }

    /// <summary>Single letters inserted, left out, changed, or swapped with their neighbour.</summary>
    public static int Edits(string a, string b)
    {
        var costs = new int[a.Length + 1, b.Length + 1];
        for (var i = 0; i <= a.Length; i++)
            costs[i, 0] = i;
        for (var j = 0; j <= b.Length; j++)
            costs[0, j] = j;
        for (var i = 1; i <= a.Length; i++)
        {
            for (var j = 1; j <= b.Length; j++)
            {
                var change = costs[i - 1, j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
                costs[i, j] = Math.Min(change, 1 + Math.Min(costs[i - 1, j], costs[i, j - 1]));
                if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                    costs[i, j] = Math.Min(costs[i, j], costs[i - 2, j - 2] + 1);
            }
        }

        return costs[a.Length, b.Length];
    }

    // tubeCurrent, tube_current and Tube-Current are one word to somebody who types from memory.
    private static string Fold(string word) =>
        new([.. word.Where(char.IsLetterOrDigit).Select(char.ToLowerInvariant).Take(64)]);
}
