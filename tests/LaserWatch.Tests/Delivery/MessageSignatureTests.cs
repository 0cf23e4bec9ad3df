using System.Text;

namespace LaserWatch.Delivery;

public class MessageSignatureTests
{
    /// <summary>
    /// RFC 9421, appendix B.2.5 "Signing a Request Using hmac-sha256", with the shared secret of B.1.5. The vector was compared with
    /// its quotation in the test suites of several independent libraries.
    /// </summary>
    [Fact]
    public void The_standards_own_example_gives_the_standards_signature()
    {
        var secret = Convert.FromBase64String("uzvJfB4u3N0Jy4T7NZ75MDVcr8zSTInedJtkgcu46YW4XByzNJjxBdtjUkdJPBtbmHhIDi6pcl8jsasjlTMtDQ==");
        List<(string, string)> components =
        [
            ("date", "Tue, 20 Apr 2021 02:07:55 GMT"), ("@authority", "example.com"), ("content-type", "application/json"),
        ];

        var parameters = MessageSignature.Parameters(components, DateTimeOffset.FromUnixTimeSeconds(1618884473), "test-shared-secret", namesAlgorithm: false);

        Assert.Equal("""("date" "@authority" "content-type");created=1618884473;keyid="test-shared-secret" """.TrimEnd(), parameters);
        Assert.Equal(
            "\"date\": Tue, 20 Apr 2021 02:07:55 GMT\n\"@authority\": example.com\n\"content-type\": application/json\n\"@signature-params\": " + parameters,
            MessageSignature.Base(components, parameters));
        Assert.Equal("pxcQw6G3AjtMBQjwo8XzkZf/bws5LelbaMk5rGIGtE8=", MessageSignature.Sign(secret, MessageSignature.Base(components, parameters)));
    }

    /// <summary>RFC 9530, appendix B.1 (from memory; the digest itself by another implementation of SHA-256).</summary>
    [Fact]
    public void The_content_digest_is_the_standards() => Assert.Equal(
        "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=:", MessageSignature.ContentDigest(Encoding.UTF8.GetBytes("{\"hello\": \"world\"}\n")));
}
