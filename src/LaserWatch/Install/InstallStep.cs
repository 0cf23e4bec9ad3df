using System.Globalization;

namespace LaserWatch.Install;

/// <summary>One step of an installation, as data: it can be printed, compared and tested on any machine, and is done by <see cref="PlanRunner"/> alone.</summary>
public abstract record InstallStep
{
    /// <summary>The step in one line.</summary>
    public abstract string Text { get; }

    public sealed override string ToString() => Text;

    private protected static string Rights(UnixFileMode? mode, string? owner)
    {
        var rights = mode is { } bits ? Convert.ToString((int)bits, 8).PadLeft(4, '0') : null;
        return string.Concat(new[] { rights, owner }.Where(part => part is not null).Select(part => ", " + part));
    }
}

/// <summary>Makes a folder; one that is there keeps what is in it, and gets these rights.</summary>
/// <param name="Owner">As <c>chown</c> takes it; null: whoever makes it.</param>
public sealed record FolderStep(string Path, UnixFileMode? Mode = null, string? Owner = null) : InstallStep
{
    public override string Text => $"folder   {Path}{Rights(Mode, Owner)}";
}

/// <summary>Writes a file whole: beside its place, and then into it.</summary>
public sealed record FileStep(string Path, string Content, UnixFileMode? Mode = null, string? Owner = null) : InstallStep
{
    public override string Text => $"write    {Path}{Rights(Mode, Owner)}";
}

/// <summary>Copies a file whole: beside its place, and then into it.</summary>
public sealed record CopyStep(string From, string Path, UnixFileMode? Mode = null, string? Owner = null) : InstallStep
{
    public override string Text => $"copy     {From} to {Path}{Rights(Mode, Owner)}";
}

/// <summary>Keeps a file under another name, in place of what has that name; where there is none, nothing.</summary>
public sealed record KeepStep(string Path, string Kept) : InstallStep
{
    public override string Text => $"keep     {Path} as {Kept}";
}

/// <summary>A symbolic link, in place of one that is there.</summary>
public sealed record LinkStep(string Path, string Target) : InstallStep
{
    public override string Text => $"link     {Path} to {Target}";
}

/// <summary>Runs a program with these arguments, without a shell.</summary>
/// <param name="MayFail">Its failure is said and ends nothing.</param>
public sealed record CommandStep(string Program, IReadOnlyList<string> Arguments, bool MayFail = false) : InstallStep
{
    public override string Text =>
        $"run      {string.Join(' ', Arguments.Prepend(Program).Select(Quoted))}{(MayFail ? " (may fail)" : "")}";

    public bool Equals(CommandStep? other) => other is not null && Text == other.Text;

    public override int GetHashCode() => Text.GetHashCode(StringComparison.Ordinal);

    private static string Quoted(string word) => word.Length > 0 && !word.Any(c => char.IsWhiteSpace(c) || c is '"' or '\'') ? word : $"'{word}'";
}

/// <summary>Removes a file; where there is none, nothing.</summary>
public sealed record RemoveStep(string Path) : InstallStep
{
    public override string Text => $"remove   {Path}";
}

/// <summary>Removes a folder.</summary>
/// <param name="WithContent">False: only if it is empty.</param>
public sealed record RemoveFolderStep(string Path, bool WithContent) : InstallStep
{
    public override string Text => $"remove   {Path}{(WithContent ? " with all that is in it" : " if it is empty")}";
}

/// <summary>Nothing is done; somebody should know.</summary>
public sealed record NoteStep(string Note) : InstallStep
{
    public override string Text => string.Create(CultureInfo.InvariantCulture, $"note     {Note}");
}
