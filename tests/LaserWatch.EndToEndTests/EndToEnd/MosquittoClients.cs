using System.Diagnostics;
using System.Globalization;
using System.Text;

namespace LaserWatch.EndToEnd;

/// <summary><c>mosquitto_pub</c> and <c>mosquitto_sub</c> towards any broker: clients that were not written here.</summary>
/// <param name="login">User, password, TLS: as the clients' command line takes them.</param>
internal sealed class MosquittoClients(int port, params string[] login)
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    /// <summary>Publishes each line as a message of its own, in order, over one connection, at QoS 1.</summary>
    /// <param name="pause">Between each ten lines, as a sensor would.</param>
    public async Task PublishLinesAsync(string topic, IEnumerable<string> lines, TimeSpan pause = default)
    {
        using var process = Start("mosquitto_pub", "-t", topic, "-q", "1", "-l");
        foreach (var ten in lines.Chunk(10))
        {
            foreach (var line in ten)
                await process.StandardInput.WriteLineAsync(line);
            await process.StandardInput.FlushAsync();
            if (pause > TimeSpan.Zero)
                await Task.Delay(pause);
        }

        await EndAsync(process);
    }

    /// <summary>Publishes one message of any bytes at QoS 1.</summary>
    public async Task PublishAsync(string topic, byte[] payload, params string[] more)
    {
        using var process = Start("mosquitto_pub", ["-t", topic, "-q", "1", "-s", .. more]);
        await process.StandardInput.BaseStream.WriteAsync(payload);
        await EndAsync(process);
    }

    /// <summary>True where the broker took it: asked by MQTT 5, which has an answer for it.</summary>
    public async Task<bool> MayPublishAsync(string topic, string payload, params string[] more)
    {
        using var process = Start("mosquitto_pub", ["-V", "mqttv5", "-t", topic, "-q", "1", "-m", payload, .. more]);
        var said = await process.StandardError.ReadToEndAsync().WaitAsync(Patience);
        await process.WaitForExitAsync().WaitAsync(Patience);
        return process.ExitCode == 0 && !said.Contains("Not authorized", StringComparison.Ordinal);
    }

    /// <summary>True where the broker grants the subscription.</summary>
    public async Task<bool> MaySubscribeAsync(string filter)
    {
        using var process = Start("mosquitto_sub", "-V", "mqttv5", "-t", filter, "-E", "-W", "10");
        var said = await process.StandardError.ReadToEndAsync().WaitAsync(Patience);
        await process.WaitForExitAsync().WaitAsync(Patience);
        return process.ExitCode == 0 && !said.Contains("denied", StringComparison.Ordinal) && !said.Contains("rejected", StringComparison.Ordinal);
    }

    public Task PublishAsync(string topic, string payload) => PublishAsync(topic, Encoding.UTF8.GetBytes(payload));

    /// <summary>The retained message of a topic; null where there is none within two seconds.</summary>
    public async Task<string?> RetainedAsync(string topic)
    {
        using var process = Start("mosquitto_sub", "-t", topic, "-C", "1", "-W", "2", "--retained-only");
        var text = process.StandardOutput.ReadToEndAsync();
        process.StandardInput.Close();
        await process.WaitForExitAsync().WaitAsync(Patience);
        return await text is { Length: > 0 } payload ? payload.TrimEnd('\n') : null;
    }

    /// <summary>Waits until the retained message of a topic holds the text, and returns it.</summary>
    public async Task<string> RetainsAsync(string topic, string text)
    {
        string? newest = null;
        await Eventually.HoldsAsync(
            async () => (newest = await RetainedAsync(topic))?.Contains(text, StringComparison.Ordinal) == true,
            () => $"{topic} retains '{text}'; it retains: {newest ?? "nothing"}");
        return newest!;
    }

    private Process Start(string program, params string[] arguments) => Process.Start(new ProcessStartInfo(
        Needs.Program(program), ["-h", "127.0.0.1", "-p", port.ToString(CultureInfo.InvariantCulture), .. login, .. arguments])
    {
        RedirectStandardInput = true,
        RedirectStandardOutput = true,
        RedirectStandardError = true,
    })!;

    private static async Task EndAsync(Process process)
    {
        process.StandardInput.Close();
        try
        {
            await process.WaitForExitAsync().WaitAsync(Patience);
        }
        catch (TimeoutException)
        {
            process.Kill();
            throw;
        }

        Assert.Equal(0, process.ExitCode);
    }
}
