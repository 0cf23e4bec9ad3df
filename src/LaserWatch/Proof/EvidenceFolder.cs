using LaserWatch.Storage;

namespace LaserWatch.Proof;

/// <summary>Where logs and key stand: a folder beside the store.</summary>
public sealed class EvidenceFolder(string path)
{
    private const string LockName = "sealing.lock";

    public static EvidenceFolder Of(StoreOptions store) => new(store.Path + ".proof");

    public string Path { get; } = System.IO.Path.GetFullPath(path);

    public string KeyFile => System.IO.Path.Combine(Path, "signing-key.pem");

    public string LogFile(string machine) => System.IO.Path.Combine(Path, machine + ".ndjson");

    /// <summary>Makes the folder if need be, and keeps other processes from writing into it until the lock is disposed.</summary>
    /// <exception cref="EvidenceException">Another process seals there now, or the folder cannot be written.</exception>
    public FileStream Lock()
    {
        var file = System.IO.Path.Combine(Path, LockName);
        try
        {
            OwnFiles.MakeFolder(Path);
            return OwnFiles.OpenOrCreate(file, FileShare.None);
        }
        catch (IOException e) when (File.Exists(file))
        {
            throw new EvidenceException($"another process is sealing days in {Path}; it is tried again later. Two agents on one store are one too many.", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new EvidenceException($"the folder {Path} cannot be written ({e.Message.TrimEnd('.')}): give the agent's user the right to.", e);
        }
    }
}
