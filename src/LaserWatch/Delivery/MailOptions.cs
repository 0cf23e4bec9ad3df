using System.ComponentModel.DataAnnotations;
using System.Net;
using LaserWatch.Configuration;
using MimeKit;

namespace LaserWatch.Delivery;

/// <summary>How a connection to a mail server is encrypted.</summary>
public enum MailSecurity
{
    /// <summary>It begins in the clear and must then be encrypted; mostly port 587.</summary>
    StartTls,

    /// <summary>It is encrypted from the first byte; mostly port 465.</summary>
    Tls,

    /// <summary>Not at all.</summary>
    None,
}

/// <summary>Mail to people: a plain text that says what, where, since when, what to check first and how to acknowledge.</summary>
public sealed record MailOptions : OutletOptions
{
    public MailOptions()
    {
        GatherAt = ["07:00"];
    }

    /// <summary>Name or address of the mail server that takes it.</summary>
    public required string Host { get; init; }

    /// <summary>TCP port: mostly 587 with <c>start-tls</c>, 465 with <c>tls</c>.</summary>
    [Range(1, 65535)]
    public int Port { get; init; } = 587;

    /// <summary>Encryption: <c>start-tls</c>, <c>tls</c>, or <c>none</c>, which is for a server on this machine.</summary>
    public MailSecurity Security { get; init; }

    /// <summary>True lets <c>none</c> be used over the network: anybody on the way can then read the mails, and the password.</summary>
    public bool AllowPlain { get; init; }

    /// <summary>User name at the mail server; null: it asks for none.</summary>
    public string? User { get; init; }

    /// <summary>Where the password stands.</summary>
    public Secret? Password { get; init; }

    /// <summary>Certificates (PEM) that may vouch for the server; null: those of the operating system.</summary>
    public string? CaFile { get; init; }

    /// <summary>The sender's address, as in <c>laserwatch@shop.example</c> or <c>"Laser bay &lt;laserwatch@shop.example&gt;"</c>.</summary>
    public required string From { get; init; }

    /// <summary>The addresses it goes to.</summary>
    public required IReadOnlyList<string> To { get; init; }

    /// <summary>Seconds that one mail may take. Default 30. Lower: a hanging server holds up what comes after it for less.</summary>
    [Range(1, 300)]
    public int TimeoutSeconds { get; init; } = 30;

    public override IEnumerable<OptionMistake> Mistakes()
    {
        foreach (var wrong in base.Mistakes())
            yield return wrong;
        if (Host.Length == 0)
            yield return new("host", "empty", "write the mail server's name or address");
        if (Security == MailSecurity.None && !AllowPlain && !IsLoopback(Host))
            yield return new("security", "without encryption anybody on the way reads the mails", "use \"start-tls\" or \"tls\", or write \"allowPlain\": true if that is meant");
        if (User is null != Password is null)
            yield return new(User is null ? "password" : "user", "user and password belong together", "give both, or none");
        if (Security == MailSecurity.None && CaFile is not null)
            yield return new("caFile", "certificates are named, but nothing is encrypted", "set 'security', or take the file out");
        if (!IsAddress(From))
            yield return new("from", $"'{From}' is no mail address", "write it as in \"laserwatch@shop.example\"");
        if (To.Count == 0)
            yield return new("to", "nobody to send it to", "write an address");
        for (var i = 0; i < To.Count; i++)
        {
            if (!IsAddress(To[i]))
                yield return new($"to[{i}]", $"'{To[i]}' is no mail address", "write it as in \"ana@shop.example\"");
        }
    }

    internal MailOptions RelativeTo(string folder) => this with
    {
        Password = WebhookOptions.Placed(Password, folder),
        CaFile = CaFile is null ? null : Path.GetFullPath(CaFile, folder),
    };

    private static bool IsAddress(string text) =>
        !text.Any(char.IsControl) && MailboxAddress.TryParse(text, out var address) && address.Address.IndexOf('@') is > 0 and var at && at < address.Address.Length - 1;

    private static bool IsLoopback(string host) =>
        host.Equals("localhost", StringComparison.OrdinalIgnoreCase) || (IPAddress.TryParse(host, out var address) && IPAddress.IsLoopback(address));
}
