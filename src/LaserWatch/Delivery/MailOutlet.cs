using System.Net.Security;
using System.Net.Sockets;
using System.Security.Cryptography.X509Certificates;
using LaserWatch.Configuration;
using MailKit;
using MailKit.Net.Smtp;
using MailKit.Security;
using MimeKit;

namespace LaserWatch.Delivery;

/// <summary>Sends each message as a mail. Its Message-ID is made of the message's id, so that a second copy is known as one.</summary>
internal sealed class MailOutlet(string name, MailOptions options, MessageText text, TimeProvider time) : IOutlet
{
    public string Name => name;

    public async Task<OutletAnswer> SendAsync(AlarmMessage message, CancellationToken stop)
    {
        string? password = null;
        if (options.Password is { } secret && (password = secret.Read(out var wrong)) is null)
            return OutletAnswer.Later($"{wrong!.What}; {wrong.Mend}");

        using var limit = new CancellationTokenSource(TimeSpan.FromSeconds(options.TimeoutSeconds), time);
        using var either = CancellationTokenSource.CreateLinkedTokenSource(stop, limit.Token);
        using var client = new Client { CheckCertificateRevocation = false, Timeout = options.TimeoutSeconds * 1000 };
        try
        {
            if (options.CaFile is not null)
                client.ServerCertificateValidationCallback = Trusting(options.CaFile);
            await client.ConnectAsync(options.Host, options.Port, Encryption(options.Security), either.Token);
            if (options.User is not null)
                await client.AuthenticateAsync(options.User, password!, either.Token);
            using var mail = Compose(message);
            await client.SendAsync(mail, either.Token);
            await SayGoodByeAsync(client, either.Token);
            return client.NotAccepted.Count == 0
                ? OutletAnswer.Delivered
                : OutletAnswer.Delivered with { Why = $"{options.Host} does not take it for {string.Join(", ", client.NotAccepted)}" };
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
            return OutletAnswer.Later($"{options.Host}:{options.Port} took more than {options.TimeoutSeconds} s");
        }
        catch (OperationCanceledException)
        {
            throw;
        }
        catch (SmtpCommandException fault) when ((int)fault.StatusCode is >= 550 and <= 554 && client.IsAuthenticatedOrNeedNot(options))
        {
            return OutletAnswer.Refused($"{options.Host} answers {(int)fault.StatusCode} {MessageText.Plain(fault.Message)}");
        }
        catch (AuthenticationException fault)
        {
            return OutletAnswer.Later($"{options.Host} does not let {options.User} in: {MessageText.Plain(fault.Message)}; put 'user' and 'password' right");
        }
        catch (SslHandshakeException fault)
        {
            return OutletAnswer.Later($"no encryption with {options.Host}:{options.Port}: {FirstLine(fault.Message)} Is its authority named in 'caFile', and does 'security' fit the port");
        }
        catch (Exception fault) when (fault is IOException or SocketException or CommandException or ProtocolException or NotSupportedException or TimeoutException or InvalidOperationException)
        {
            return OutletAnswer.Later($"{options.Host}:{options.Port}: {FirstLine(fault.Message).TrimEnd('.')}");
        }
    }

    internal MimeMessage Compose(AlarmMessage message)
    {
        var from = MailboxAddress.Parse(options.From);
        var domain = from.Address[(from.Address.IndexOf('@') + 1)..];
        var mail = new MimeMessage
        {
            Subject = text.Subject(message),
            Date = time.GetUtcNow(),
            MessageId = $"{message.Id}@{domain}",
            Body = new TextPart("plain") { Text = text.Body(message) },
        };
        mail.From.Add(from);
        foreach (var to in options.To)
            mail.To.Add(MailboxAddress.Parse(to));
        mail.Headers.Add("Auto-Submitted", "auto-generated"); // RFC 3834: no answering machine shall answer
        if (message.IsLate)
            mail.Headers.Add(WebhookOutlet.LateHeader, "true");
        if (message.Entries is [{ Raised: { } raised }])
        {
            // Mail programs then show an alarm's end beside the alarm.
            mail.InReplyTo = $"{raised.Id()}@{domain}";
            mail.References.Add($"{raised.Id()}@{domain}");
        }

        return mail;
    }

    private static async Task SayGoodByeAsync(Client client, CancellationToken stop)
    {
        try
        {
            await client.DisconnectAsync(quit: true, stop);
        }
        catch (Exception fault) when (fault is IOException or SocketException or CommandException or ProtocolException or OperationCanceledException)
        {
            // It has the mail; a rude end of the talk must not send it twice.
        }
    }

    private static SecureSocketOptions Encryption(MailSecurity security) => security switch
    {
        MailSecurity.StartTls => SecureSocketOptions.StartTls,
        MailSecurity.Tls => SecureSocketOptions.SslOnConnect,
        _ => SecureSocketOptions.None,
    };

    private static string FirstLine(string message) => MessageText.Plain(message.Split('\n', 2)[0].Trim());

    private static RemoteCertificateValidationCallback Trusting(string file) => (_, certificate, _, errors) =>
    {
        if (certificate is null || (errors & ~SslPolicyErrors.RemoteCertificateChainErrors) != SslPolicyErrors.None)
            return false;
        using var chain = new X509Chain();
        chain.ChainPolicy.TrustMode = X509ChainTrustMode.CustomRootTrust;
        chain.ChainPolicy.RevocationMode = X509RevocationMode.NoCheck;
        chain.ChainPolicy.CustomTrustStore.ImportFromPemFile(file);
        using var theirs = X509CertificateLoader.LoadCertificate(certificate.GetRawCertData());
        return chain.Build(theirs);
    };

    /// <summary>Goes on where the server takes some of the addresses: one that is wrong must not silence the others.</summary>
    private sealed class Client : SmtpClient
    {
        public List<string> NotAccepted { get; } = [];

        public bool IsAuthenticatedOrNeedNot(MailOptions options) => options.User is null || IsAuthenticated;

        protected override void OnRecipientNotAccepted(MimeMessage message, MailboxAddress mailbox, SmtpResponse response) =>
            NotAccepted.Add($"{mailbox.Address} ({(int)response.StatusCode} {MessageText.Plain(response.Response)})");

        protected override void OnNoRecipientsAccepted(MimeMessage message) =>
            throw new SmtpCommandException(SmtpErrorCode.RecipientNotAccepted, Worst(), string.Join(", ", NotAccepted));

        // Where any of them may be taken later it is tried later.
        private SmtpStatusCode Worst() => NotAccepted.Exists(n => n.Contains("(4", StringComparison.Ordinal)) ? SmtpStatusCode.MailboxBusy : SmtpStatusCode.MailboxUnavailable;
    }
}
