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
                    return new(e.Message, "check broker.user and broker.password");
                case BrokerRefusedException { Code: (int)MqttClientConnectResultCode.ClientIdentifierNotValid or 2 }:
                    return new(e.Message, "check broker.clientId");
                case BrokerRefusedException:
                    return new(e.Message, "the broker's own log may say more");
                case AuthenticationException when options.Tls.Enabled:
                    return new($"the TLS handshake failed: {Line(e)}", TlsMend(options));

                // Thrown by reading our files, these stand alone; from within the connection they are the broker's doing.
                case CryptographicException or FileNotFoundException or DirectoryNotFoundException or UnauthorizedAccessException when e == exception:
                    return new(Line(e), "check broker.tls: caFile, certificateFile, keyFile");
                case CryptographicException when options.Tls.Enabled:
                    return new($"the TLS connection broke: {Line(e)}", TlsMend(options));
                case SocketException { SocketErrorCode: SocketError.HostNotFound or SocketError.TryAgain or SocketError.NoData }:
                    return new($"the name {options.Host} is not known", "check broker.host");
                case SocketException { SocketErrorCode: SocketError.ConnectionRefused }:
                    return new($"nothing listens at {where}", "check that the broker runs, and broker.port");
            }
        }

        if (options.Tls.Enabled && IsHangUp(exception))
        {
            // A broker that wants a client certificate just hangs up after the handshake.
            return new($"the broker at {where} hung up ({Line(innermost)})", TlsMend(options));
        }

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

    private static string TlsMend(ConfiguredBroker options) => options.Tls switch
    {
        { CaFile: null } => "if the broker's certificate is of a private authority, name its file in broker.tls.caFile",
        { CertificateFile: null } => "check broker.tls.caFile and broker.host (it must be a name in the broker's certificate); "
            + "if the broker asks for a client certificate, set broker.tls.certificateFile and keyFile",
        _ => "check broker.tls.caFile, broker.host (it must be a name in the broker's certificate), and that the broker trusts broker.tls.certificateFile",
    };

    private static string Line(Exception exception) => exception.Message.ReplaceLineEndings(" ").TrimEnd('.');
}
