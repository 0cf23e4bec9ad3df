namespace LaserWatch.Mqtt;

/// <summary>A file with this text, gone with the test.</summary>
public sealed class TemporaryFile : IDisposable
{
    public TemporaryFile(string text) => File.WriteAllText(Path, text);

    public string Path { get; } = System.IO.Path.GetTempFileName();

    public void Dispose() => File.Delete(Path);
}
