using System.Text;

namespace LaserWatch.Proof;

/// <summary>What signs a report's page as a whole.</summary>
/// <param name="Kind">Always <c>seal</c>.</param>
/// <param name="Made">When, RFC 3339.</param>
/// <param name="Page">SHA-256 of the page's bytes, with the seal's own element there but empty.</param>
/// <param name="Sections">SHA-256 of each section by its id, from its opening to its closing tag: so that a change can be placed.</param>
/// <param name="Key">The public key, SubjectPublicKeyInfo in base64.</param>
/// <param name="Signature">ECDSA with SHA-256 over <see cref="TextToSign"/>, DER in base64.</param>
internal sealed record PageSeal(string Kind, string Machine, string Made, Digest Page, Dictionary<string, Digest> Sections, string Key, string Signature)
{
    public const string KindName = "seal";

    /// <summary>The bytes that are signed: lines, each ended by a line feed.</summary>
    public byte[] TextToSign()
    {
        var text = new StringBuilder($"laserwatch report seal 1\n{Machine}\n{Made}\n{Page}\n");
        foreach (var (id, hash) in Sections.OrderBy(section => section.Key, StringComparer.Ordinal))
            text.Append(id).Append(' ').Append(hash).Append('\n');
        return Encoding.UTF8.GetBytes(text.ToString());
    }

    /// <summary>The kind is not among what is signed, so it must be the one that it can be.</summary>
    public bool Holds() => Kind == KindName && LogJson.TryBase64(Key, out var key) && LogJson.TryBase64(Signature, out var signature) && SigningKey.Verifies(key, TextToSign(), signature);
}

/// <summary>Puts annex and seal into a page, behind all that is read.</summary>
internal static class DocumentSeal
{
    public const string AnnexOpen = "<script type=\"text/plain\" id=\"laserwatch-annex\">\n";
    public const string SealOpen = "<script type=\"application/json\" id=\"laserwatch-seal\">";
    public const string Close = "</script>";
    private const string End = "</body>";

    /// <summary>The page with the annex's lines in it.</summary>
    /// <param name="lines">Lines of a recording; they hold nothing that HTML or XML could take for markup.</param>
    public static string WithAnnex(string page, string lines)
    {
        if (lines.AsSpan().ContainsAny('<', '&'))
            throw new InvalidOperationException("A line of the annex would be taken for markup.");
        return Insert(page, AnnexOpen + lines + Close + "\n");
    }

    /// <summary>The page with its seal.</summary>
    /// <param name="made">When, RFC 3339.</param>
    public static string Seal(string page, string machine, string made, SigningKey key)
    {
        var empty = Insert(page, SealOpen + Close + "\n");
        var bytes = Encoding.UTF8.GetBytes(empty);
        var seal = new PageSeal(PageSeal.KindName, machine, made, Digest.Of(bytes), PageSections.Hash(bytes), Convert.ToBase64String(key.PublicKey), "");
        seal = seal with { Signature = Convert.ToBase64String(key.Sign(seal.TextToSign())) };
        return empty.Replace(SealOpen, SealOpen + LogJson.Write(seal), StringComparison.Ordinal);
    }

    private static string Insert(string page, string what)
    {
        var end = page.LastIndexOf(End, StringComparison.Ordinal);
        return end < 0 ? throw new ArgumentException("The page has no end of its body.", nameof(page)) : page.Insert(end, what);
    }
}

/// <summary>Finds the sections of a page by their bytes.</summary>
internal static class PageSections
{
    private static ReadOnlySpan<byte> Begin => "<section id=\""u8;

    private static ReadOnlySpan<byte> End => "</section>"u8;

    /// <summary>The hash of each section by its id; of one id twice, the last. Sections do not lie within each other.</summary>
    public static Dictionary<string, Digest> Hash(ReadOnlySpan<byte> page)
    {
        var sections = new Dictionary<string, Digest>(StringComparer.Ordinal);
        while (page.IndexOf(Begin) is var begin and >= 0)
        {
            page = page[begin..];
            var id = page[Begin.Length..];
            var (quote, end) = (id.IndexOf((byte)'"'), page.IndexOf(End));
            if (quote < 0 || end < 0)
                break;
            end += End.Length;
            sections[Encoding.UTF8.GetString(id[..quote])] = Digest.Of(page[..end]);
            page = page[end..];
        }

        return sections;
    }
}
