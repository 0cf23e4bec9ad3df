namespace LaserWatch.Configuration;

/// <summary>Commands to the alarms: who may give them, and as whom this machine's command line comes to the broker.</summary>
public sealed record CommandsOptions : ICheckedOptions
{
    /// <summary>Names that may acknowledge, shelve and so on; empty: anyone who may publish them. At an outside broker the name is what the command claims, and no proof: there the broker's access list is the guard.</summary>
    public IReadOnlyList<string> By { get; init; } = [];

    /// <summary>User name that <c>laserwatch alarms ack</c> and its kin, and <c>check</c>, use at the broker; null: the agent's own. The environment's LASERWATCH_USER goes before it.</summary>
    public string? User { get; init; }

    /// <summary>Where the password of <c>user</c> stands; null: none.</summary>
    public Secret? Password { get; init; }

    /// <summary>Their certificate (PEM), where the broker asks for one; null: the agent's own.</summary>
    public string? CertificateFile { get; init; }

    /// <summary>The private key (PEM) of that certificate; null: none.</summary>
    public string? KeyFile { get; init; }

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (Password is not null && User is null)
            yield return new("password", "a password without a user", "add the key 'user'");
        if ((CertificateFile is null) != (KeyFile is null))
            yield return new(CertificateFile is null ? "keyFile" : "certificateFile", "a certificate and its key go together", "give both 'certificateFile' and 'keyFile', or neither");
    }
}
