using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography;
using LaserWatch.Configuration;
using MQTTnet;
using MQTTnet.Exceptions;

namespace LaserWatch.Mqtt;

/// <summary>The broker answered, and the answer was no.</summary>
public sealed class BrokerRefusedException(int code, string reason)
    : IOException($"the broker refuses the connection: {reason}")
{
    /// <summary>The CONNACK reason code; 1 is how MQTT 3.1.1 says "unacceptable protocol version".</summary>
    public int Code { get; } = code;

    public bool WrongVersion => Code is 1 or (int)MqttClientConnectResultCode.UnsupportedProtocolVersion;
}

/// <summary>A password stands where it cannot be read.</summary>
public sealed class SecretMissingException(string key, OptionMistake wrong)
    : IOException($"{key}: {wrong.What}; {wrong.Mend}")
{
    /// <summary>What is wrong, with the key; never the secret.</summary>
    public string What { get; } = $"{key}: {wrong.What}";

    public string Mend { get; } = wrong.Mend;
}

/// <summary>Why a connection did not come about, and what may mend it.</summary>
/// <param name="Mend">A hint for the reader of the log.</param>
internal readonly record struct ConnectFault(string What, string Mend)
{
    /// <summary>Reads the library's exceptions, whose outermost message seldom tells.</summary>
    public static ConnectFault Of(Exception exception, ConfiguredBroker options)
    {
        var where = $"{options.Host}:{options.Port}";
        var innermost = exception;
        for (var e = exception; e is not null; e = e.InnerException)
        {
            innermost = e;
            switch (e)
            {
                case SecretMissingException secret:
                    return new(secret.What, secret.Mend);
                case BrokerRefusedException { Code: (int)MqttClientConnectResultCode.BadUserNameOrPassword or (int)MqttClientConnectResultCode.NotAuthorized or 4 or 5 }:
                    return new(e.Message, $"check {options.Login}");
                case BrokerRefusedException { Code: (int)MqttClientConnectResultCode.ClientIdentifierNotValid or 2 }:
                    return new(e.Message, "check broker.clientId");
                case BrokerRefusedException:
                    return new(e.Message, "the broker's own log may say more");
                case TlsFileException file:
                    return new(file.What, file.Mend);
                case BrokerCertificateException certificate:
                    return new($"the TLS handshake failed: {certificate.What}", certificate.Mend);
                case AuthenticationException when options.Tls.Enabled:
                    return new($"the TLS handshake failed: {Line(e)}", "check that this port speaks TLS 1.2 or newer; the broker's own log may say more");

                case CryptographicException when options.Tls.Enabled:
                    return NoClientCertificate(where, options.Tls);
                case SocketException { SocketErrorCode: SocketError.HostNotFound or SocketError.TryAgain or SocketError.NoData }:
                    return new($"the name {options.Host} is not known", "check broker.host");
                case SocketException { SocketErrorCode: SocketError.ConnectionRefused }:
                    return new($"nothing listens at {where}", "check that the broker runs, and broker.port");
            }
        }

        if (options.Tls.Enabled && IsHangUp(exception))
            return NoClientCertificate(where, options.Tls);

        if (IsHangUp(exception))
            return new($"the broker at {where} hung up ({Line(innermost)})", "check that this port speaks MQTT, and whether it wants TLS");
        if (exception is OperationCanceledException or TimeoutException || innermost is OperationCanceledException or MqttCommunicationTimedOutException)
            return new($"no answer from {where} in time", "check the network, and whether this port wants TLS");
        return new(Line(innermost), "the broker's own log may say more");
    }

    /// <summary>The other side closed the connection without a word.</summary>
    public static bool IsHangUp(Exception exception)
    {
        for (var e = exception; e is not null; e = e.InnerException)
        {
            if (e is BrokerRefusedException or AuthenticationException)
                return false;
            if (e is MqttProtocolViolationException or EndOfStreamException
                || (e is MqttCommunicationException && e.Message.StartsWith("Connection closed", StringComparison.Ordinal))
                || e is SocketException { SocketErrorCode: SocketError.NotConnected or SocketError.ConnectionReset or SocketError.Shutdown or SocketError.ConnectionAborted })
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>
    /// The broker's own certificate was good, or we would have said so. One that misses ours just hangs up after the handshake,
    /// with or without a word to the system, whose own is "not connected" or an alert's number.
    /// </summary>
    private static ConnectFault NoClientCertificate(string where, ConfiguredTls tls) => tls.CertificateFile is null
        ? new($"the broker at {where} hung up after the TLS handshake; it seems to ask for a client certificate, and none is configured", $"set {tls.Section}.certificateFile and keyFile")
        : new(
            $"the broker at {where} hung up after the TLS handshake; it seems not to accept our certificate {tls.CertificateFile}",
            $"have {tls.Section}.certificateFile made by an authority that the broker trusts, for use by clients; the broker's own log may say more");

    private static string Line(Exception exception) => exception.Message.ReplaceLineEndings(" ").TrimEnd('.');
}
