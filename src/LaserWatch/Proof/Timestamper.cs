using System.Net.Http.Headers;
using System.Security.Cryptography;
using System.Security.Cryptography.Pkcs;
using System.Security.Cryptography.X509Certificates;
using System.Text;
using Microsoft.Extensions.Logging;

namespace LaserWatch.Proof;

/// <summary>Asks a time-stamping authority (RFC 3161 over HTTP, section 3.4) to vouch for the newest head of a log.</summary>
/// <remarks>The authority is sent the SHA-256 of the head's line. What fails is told once, and asked for again at the next sealing.</remarks>
internal sealed class Timestamper(EvidenceOptions options, ILogger logger)
{
    private static readonly HttpClient Http = new() { Timeout = Timeout.InfiniteTimeSpan, MaxResponseContentBufferSize = LargestReply };

    private const int LargestReply = 1 << 20;

    private bool _failing;

    /// <summary>Appends a token for the newest head of each log, where it has none and the authority gives one; the first failure ends the round.</summary>
    /// <exception cref="EvidenceException">A log cannot be written.</exception>
    public async Task StampAsync(IEnumerable<EvidenceLog> logs, CancellationToken stop)
    {
        foreach (var log in logs)
        {
            if (log.Content.Heads is [.., var (_, line)] && log.Content.StampOf(line) is null && !await TryStampAsync(log, line, stop).ConfigureAwait(false))
                return;
        }
    }

    private async Task<bool> TryStampAsync(EvidenceLog log, string line, CancellationToken stop)
    {
        try
        {
            log.AppendStamp(await AskAsync(Encoding.UTF8.GetBytes(line), stop).ConfigureAwait(false));
            if (_failing)
                logger.TimestampWorksAgain(options.TimestampUrl!);
            _failing = false;
            return true;
        }
        catch (Exception e) when (e is HttpRequestException or CryptographicException or IOException or UnauthorizedAccessException || (e is OperationCanceledException && !stop.IsCancellationRequested))
        {
            if (!_failing)
                logger.TimestampFailed(options.TimestampUrl!, e is OperationCanceledException ? $"no answer within {options.TimestampSeconds} s" : e.Message);
            _failing = true;
            return false;
        }
    }

    /// <summary>Read anew each time: certificates are renewed.</summary>
    private X509Certificate2Collection? Authorities()
    {
        if (options.TimestampCaFile is null)
            return null;
        var certificates = new X509Certificate2Collection();
        certificates.ImportFromPemFile(options.TimestampCaFile);
        return certificates;
    }

    private async Task<byte[]> AskAsync(byte[] data, CancellationToken stop)
    {
        var request = Rfc3161TimestampRequest.CreateFromData(
            data, HashAlgorithmName.SHA256, nonce: RandomNumberGenerator.GetBytes(8), requestSignerCertificates: true);
        using var body = new ByteArrayContent(request.Encode());
        body.Headers.ContentType = new MediaTypeHeaderValue("application/timestamp-query");
        using var message = new HttpRequestMessage(HttpMethod.Post, options.TimestampUrl) { Content = body };
        message.Headers.Accept.Add(new MediaTypeWithQualityHeaderValue("application/timestamp-reply"));
        using var deadline = CancellationTokenSource.CreateLinkedTokenSource(stop);
        deadline.CancelAfter(TimeSpan.FromSeconds(options.TimestampSeconds));
        using var reply = await Http.SendAsync(message, deadline.Token).ConfigureAwait(false);
        reply.EnsureSuccessStatusCode();
        var bytes = await reply.Content.ReadAsByteArrayAsync(deadline.Token).ConfigureAwait(false);

        // Checks status, nonce and that it is our hash which was stamped.
        var token = request.ProcessResponse(bytes, out _).AsSignedCms().Encode();
        return TimestampCheck.Check(token, data, Authorities()).Wrong is { } wrong ? throw new CryptographicException(wrong) : token;
    }
}
