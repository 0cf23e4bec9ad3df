using System.Security.Cryptography;
using System.Text;
using LaserWatch.Configuration;
using LaserWatch.Payloads;

namespace LaserWatch.Mqtt;

/// <summary>Who may come into the embedded broker. Passwords are read anew at each login, so that a changed one needs no restart.</summary>
internal sealed class ClientAccounts
{
    private static readonly PasswordHash Nobody = PasswordHash.Of(Convert.ToBase64String(RandomNumberGenerator.GetBytes(32)));

    private readonly Dictionary<string, Account> _byUser = new(StringComparer.Ordinal);
    private readonly ClientRights? _anybody;
    private readonly bool _hasHashes;

    public ClientAccounts(ConfiguredEmbeddedBroker options, string topicRoot, IReadOnlyList<TopicRule> rules)
    {
        var topics = new Topics(topicRoot);
        if (options is { User.Length: > 0, Password: { } password })
            _byUser.Add(options.User, new(ClientRights.Shared(options.User, topics), "embeddedBroker.password", password, null));
        for (var i = 0; i < options.Clients.Count; i++)
        {
            var client = options.Clients[i];
            PasswordHash? hash = null;
            if (client.PasswordHash is { } text && !PasswordHash.TryParse(text, out hash))
                throw new ArgumentException($"embeddedBroker.clients[{i}].passwordHash is not a hash as 'laserwatch password' prints it.", nameof(options));
            _byUser.Add(client.User, new(ClientRights.Of(client, topics, rules), $"embeddedBroker.clients[{i}].password", client.Password, hash));
        }

        _hasHashes = _byUser.Values.Any(a => a.Hash is not null);
        _anybody = _byUser.Count == 0 ? ClientRights.Shared("", topics) : null;
    }

    /// <summary>Nobody is asked who he is.</summary>
    public bool IsOpen => _anybody is not null;

    /// <exception cref="SecretMissingException">A password cannot be read.</exception>
    public void RequirePasswords()
    {
        foreach (var account in _byUser.Values)
            account.ReadPassword();
    }

    /// <summary>The rights of this user; null where name or password are wrong. Takes as long for a name nobody has.</summary>
    /// <exception cref="SecretMissingException">The password to compare with cannot be read.</exception>
    public ClientRights? LogIn(string? user, ReadOnlySpan<byte> password)
    {
        if (_anybody is not null)
            return _anybody;
        if (!_byUser.TryGetValue(user ?? "", out var account))
        {
            if (_hasHashes)
                Nobody.IsOf(password);
            return null;
        }

        var right = account.Hash?.IsOf(password)
            ?? CryptographicOperations.FixedTimeEquals(SHA256.HashData(password), SHA256.HashData(Encoding.UTF8.GetBytes(account.ReadPassword()!)));
        return right ? account.Rights : null;
    }

    private sealed record Account(ClientRights Rights, string Key, Secret? Password, PasswordHash? Hash)
    {
        public string? ReadPassword() => Password is null ? null : Password.Read(out var wrong) ?? throw new SecretMissingException(Key, wrong!);
    }
}
