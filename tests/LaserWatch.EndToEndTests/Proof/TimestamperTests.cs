using System.Security.Cryptography.X509Certificates;
using System.Text;

namespace LaserWatch.Proof;

/// <summary>RFC 3161 against openssl's authority.</summary>
public class TimestamperTests
{
    [SkippableFact]
    public async Task The_head_of_the_log_is_stamped_and_the_token_vouched_for_by_the_certificates_given()
    {
        await using var authority = new OpensslAuthority();
        await using var shop = await SealedShop.CreateAsync(new EvidenceOptions { TimestampUrl = authority.Url, TimestampCaFile = authority.CaFile });
        var recording = await shop.RecordAsync();

        var alone = SealedShop.Verify(recording);
        Assert.Empty(alone.Findings);
        Assert.Equal((null, null, "CN=test-authority"), (alone.Timestamp!.Wrong, alone.Timestamp.Trusted, alone.Timestamp.Authority));

        var authorities = new X509Certificate2Collection();
        authorities.ImportFromPemFile(authority.CaFile);
        var trusting = RecordingVerifier.Verify(() => new MemoryStream(recording), new VerificationDemands(Authorities: authorities));
        Assert.Empty(trusting.Findings);
        Assert.True(trusting.Timestamp!.Trusted);
        Assert.InRange(trusting.Timestamp.At!.Value.ToDateTimeOffset(), TimeProvider.System.GetUtcNow().AddHours(-1), TimeProvider.System.GetUtcNow().AddHours(1));
    }

    [SkippableFact]
    public async Task A_token_is_refused_for_other_bytes_when_altered_and_where_others_must_vouch_for_it()
    {
        await using var authority = new OpensslAuthority();
        await using var other = new OpensslAuthority();
        await using var shop = await SealedShop.CreateAsync(new EvidenceOptions { TimestampUrl = authority.Url });
        var log = EvidenceLog.Read(shop.Folder, "bay1").Content;
        var head = log.Heads[^1].Line;
        Assert.True(LogJson.TryBase64(log.StampOf(head)!.Token, out var token));
        var stamped = Encoding.UTF8.GetBytes(head);

        Assert.Null(TimestampCheck.Check(token, stamped, null).Wrong);
        Assert.NotNull(TimestampCheck.Check(token, [.. stamped, (byte)' '], null).Wrong);
        var altered = token.ToArray();
        altered[^20] ^= 1; // within the signature, which stands last
        Assert.NotNull(TimestampCheck.Check(altered, stamped, null).Wrong);
        var authorities = new X509Certificate2Collection();
        authorities.ImportFromPemFile(other.CaFile);
        Assert.Contains("is not vouched for", TimestampCheck.Check(token, stamped, authorities).Wrong, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task An_authority_that_fails_delays_no_sealing_and_is_asked_again_at_the_next()
    {
        await using var authority = new OpensslAuthority();
        authority.Fault = 500;
        await using var shop = await SealedShop.CreateAsync(new EvidenceOptions { TimestampUrl = authority.Url });
        var log = EvidenceLog.Read(shop.Folder, "bay1").Content;
        Assert.Equal(3, log.Entries.Count);
        Assert.Null(log.StampOf(log.Heads[^1].Line));

        authority.Fault = null;
        await shop.SealAsync(3);

        log = EvidenceLog.Read(shop.Folder, "bay1").Content;
        Assert.NotNull(log.StampOf(log.Heads[^1].Line));
        Assert.Equal(2, authority.Asked);
    }

    /// <summary>RFC 3161 request over SHA-256("abc"); computed: openssl 3.0.19 ts -query -sha256 -no_nonce -cert.</summary>
    [Fact]
    public void A_request_is_spelled_as_openssl_spells_it()
    {
        const string Expected = "30390201013031300d060960864801650304020105000420ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad0101ff";

        var request = System.Security.Cryptography.Pkcs.Rfc3161TimestampRequest.CreateFromData(
            "abc"u8, System.Security.Cryptography.HashAlgorithmName.SHA256, requestSignerCertificates: true);

        Assert.Equal(Expected, Convert.ToHexStringLower(request.Encode()));
    }
}
