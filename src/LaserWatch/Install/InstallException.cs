namespace LaserWatch.Install;

/// <summary>An installation that is refused or broken off; the message is one line with the mend.</summary>
/// <param name="isUsage">True: the command line or the configuration is wrong; false: the machine does not let it.</param>
public sealed class InstallException(string message, bool isUsage = false, Exception? cause = null) : Exception(message, cause)
{
    public bool IsUsage { get; } = isUsage;
}
