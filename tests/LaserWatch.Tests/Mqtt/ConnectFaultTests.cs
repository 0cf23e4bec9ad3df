using System.Net.Sockets;
using System.Security.Authentication;
using System.Security.Cryptography;
using LaserWatch.Configuration;
using MQTTnet.Adapter;
using MQTTnet.Exceptions;

namespace LaserWatch.Mqtt;

public class ConnectFaultTests
{
    private static readonly ConfiguredBroker Plain = new() { Host = "broker", Port = 1883 };
    private static readonly ConfiguredBroker Tls = Plain with { Port = 8883, Tls = new ConfiguredTls { Enabled = true, CaFile = "ca.pem" } };

    [Fact]
    public void Nobody_at_the_port_is_said_with_the_port() =>
        Assert.Equal(
            new ConnectFault("nothing listens at broker:1883", "check that the broker runs, and broker.port"),
            ConnectFault.Of(new MqttCommunicationException(new SocketException((int)SocketError.ConnectionRefused)), Plain));

    [Fact]
    public void An_unknown_name_is_said() =>
        Assert.Equal(
            new ConnectFault("the name broker is not known", "check broker.host"),
            ConnectFault.Of(new MqttCommunicationException(new SocketException((int)SocketError.HostNotFound)), Plain));

    [Fact]
    public void A_broker_that_hangs_up_after_the_TLS_handshake_may_want_a_client_certificate()
    {
        var fault = ConnectFault.Of(
            new MqttConnectingFailedException("Error while authenticating.", new MqttCommunicationException(new SocketException((int)SocketError.NotConnected))), Tls);

        Assert.Equal(
            new ConnectFault(
                "the broker at broker:8883 hung up after the TLS handshake; it seems to ask for a client certificate, and none is configured",
                "set broker.tls.certificateFile and keyFile"),
            fault);
    }

    [Fact]
    public void A_failed_TLS_handshake_is_told_from_other_trouble() =>
        Assert.StartsWith(
            "the TLS handshake failed: bad", ConnectFault.Of(new MqttCommunicationException(new AuthenticationException("bad")), Tls).What, StringComparison.Ordinal);

    [Fact]
    public void A_TLS_alert_after_the_handshake_is_the_brokers_word_and_not_a_bad_file_of_ours()
    {
        var alert = new CryptographicException("alert certificate required");
        var fault = ConnectFault.Of(new MqttConnectingFailedException("Error while authenticating.", new MqttCommunicationException(new IOException("Decrypting failed", alert))), Tls);

        Assert.Contains("it seems to ask for a client certificate", fault.What, StringComparison.Ordinal);
        Assert.EndsWith("set broker.tls.certificateFile and keyFile", fault.Mend, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(134, "check broker.user and broker.password")]
    [InlineData(135, "check broker.user and broker.password")]
    [InlineData(4, "check broker.user and broker.password")]
    [InlineData(5, "check broker.user and broker.password")]
    [InlineData(133, "check broker.clientId")]
    [InlineData(2, "check broker.clientId")]
    [InlineData(137, "the broker's own log may say more")]
    public void A_refusal_names_what_to_check(int code, string mend) =>
        Assert.Equal(
            new ConnectFault("the broker refuses the connection: Because", mend), ConnectFault.Of(new BrokerRefusedException(code, "Because"), Plain));

    [Theory]
    [InlineData(1, true)]
    [InlineData(132, true)]
    [InlineData(135, false)]
    public void Both_versions_words_for_a_wrong_version_are_known(int code, bool wrong) =>
        Assert.Equal(wrong, new BrokerRefusedException(code, "").WrongVersion);
}
