using LaserWatch.Payloads;

namespace LaserWatch.Configuration;

/// <summary>One thing wrong in a configuration file, with what puts it right.</summary>
/// <param name="Path">Where, as in <c>machines.bay1.sensors[2].unit</c>; empty for the file as a whole.</param>
/// <param name="Line">The line, from 1; 0 where no line can be named, as for a file that is not there.</param>
public sealed record ConfigurationMistake(string File, string Path, int Line, string What, string Mend)
{
    private const int MostWords = 2000;

    /// <summary>One line: file and line as compilers print them, so that editors can jump there.</summary>
    public override string ToString()
    {
        var where = Line > 0 ? $"{File}:{Line}" : File;
        // A key or a value of the file may hold what a console would take for an order.
        return PayloadText.Clean(Path.Length == 0 ? $"{where}: {What}: {Mend}" : $"{where}: {Path}: {What}: {Mend}", MostWords);
    }
}

/// <summary>A mistake that a record finds in itself; the reader adds where it stands.</summary>
/// <param name="Member">The member it is in, as spelled in the file, as in <c>sensors[2].unit</c>; empty for the record as a whole.</param>
public sealed record OptionMistake(string Member, string What, string Mend)
{
    /// <summary>From a sentence that parts what is wrong from the mend by its last colon, where it has one.</summary>
    public static OptionMistake From(string member, string sentence)
    {
        var colon = sentence.LastIndexOf(": ", StringComparison.Ordinal);
        return colon < 0
            ? new(member, sentence.TrimEnd('.'), "change the values so that they agree")
            : new(member, sentence[..colon], sentence[(colon + 2)..].TrimEnd('.'));
    }
}

/// <summary>What came of reading a file: a value, or every mistake in it; never both.</summary>
public sealed record ConfigurationRead<T>(string File, T? Value, IReadOnlyList<ConfigurationMistake> Mistakes)
    where T : class;
