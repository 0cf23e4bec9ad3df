using System.Text.RegularExpressions;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;

namespace LaserWatch.Configuration;

/// <summary>What a client of the embedded broker may hear. Samples, jobs, service and commands are told to those alone who may hear everything.</summary>
public enum ClientReading
{
    Nothing,
    Alarms,
    Everything,
}

/// <summary>One client of the embedded broker, and its rights. Nobody but the agent may publish alarms and status, whatever stands here.</summary>
public sealed partial record ConfiguredClient : ICheckedOptions
{
    public const int LongestUser = 64;

    /// <summary>The name it logs in with: 1 to 64 letters, digits and <c>. _ @ -</c>. It stands in the log, and beside what it commands.</summary>
    public required string User { get; init; }

    /// <summary>Where its password stands; or give <c>passwordHash</c>.</summary>
    public Secret? Password { get; init; }

    /// <summary>Its password as a salted hash, as <c>laserwatch password</c> prints it: whoever reads this file then has no password.</summary>
    public string? PasswordHash { get; init; }

    /// <summary>The machines that it has to do with; empty: all.</summary>
    public IReadOnlyList<string> Machines { get; init; } = [];

    /// <summary>The channels it may publish samples of, on LaserWatch's own topics and on those of the machines' sensors; empty: all, unless <c>maySample</c> is false.</summary>
    public IReadOnlyList<string> Channels { get; init; } = [];

    /// <summary>May publish samples, as sensors do. False for people, displays and scripts.</summary>
    public bool MaySample { get; init; } = true;

    /// <summary>May start and end jobs.</summary>
    public bool MayStartJobs { get; init; }

    /// <summary>May write into the service log, which starts baselines anew.</summary>
    public bool MayLogService { get; init; }

    /// <summary>May acknowledge, shelve and reset alarms and take them out of service; and hears alarms for it.</summary>
    public bool MayCommand { get; init; }

    /// <summary>What it may subscribe to, of its machines: nothing, alarms and status, or everything.</summary>
    public ClientReading MayRead { get; init; } = ClientReading.Nothing;

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (!ValidUser().IsMatch(User))
            yield return new("user", "it is not a name that can stand here", $"use 1 to {LongestUser} letters, digits and . _ @ -");
        if (Password is null == PasswordHash is null)
            yield return new("", "a client has exactly one password", "give either 'password' or 'passwordHash'");
        if (PasswordHash is not null && !Mqtt.PasswordHash.TryParse(PasswordHash, out _))
            yield return new("passwordHash", "it is not a hash as this program makes it", "take the line that 'laserwatch password' prints");
        for (var i = 0; i < Machines.Count; i++)
        {
            if (!MachineName.IsValid(Machines[i]))
                yield return new($"machines[{i}]", $"'{Machines[i]}' is not a machine's name", $"use {MachineName.Rule}");
        }

        for (var i = 0; i < Channels.Count; i++)
        {
            if (!ChannelTable.IsValidName(Channels[i]))
                yield return new($"channels[{i}]", $"'{Channels[i]}' is no channel name", "use 1 to 64 of A-Z a-z 0-9 _ - .");
        }

        if (!MaySample && Channels.Count > 0)
            yield return new("channels", "channels are named, but it may publish no samples", "take them out, or 'maySample'");
    }

    [GeneratedRegex(@"\A[\p{L}\p{Nd}._@-]{1,64}\z")]
    private static partial Regex ValidUser();
}
