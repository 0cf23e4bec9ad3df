namespace LaserWatch.Telemetry;

public class CheckSumTests
{
    /// <summary>RFC 3720 (iSCSI), appendix B.4, "CRC Examples", from memory; the nine digits are the customary check value of CRC-32C, from memory.</summary>
    [Fact]
    public void As_the_examples_of_the_standard()
    {
        Assert.Equal(0x8A9136AAu, CheckSum.Of(new byte[32]));
        Assert.Equal(0x62A8AB43u, CheckSum.Of([.. Enumerable.Repeat((byte)0xFF, 32)]));
        Assert.Equal(0x46DD794Eu, CheckSum.Of([.. Enumerable.Range(0, 32).Select(i => (byte)i)]));
        Assert.Equal(0xE3069283u, CheckSum.Of("123456789"u8));
    }

    [Fact]
    public void A_key_counts_as_eight_bytes_before_the_content() =>
        Assert.Equal(CheckSum.Of([.. BitConverter.GetBytes(0x0102030405060708L), .. "content"u8]), CheckSum.Of(0x0102030405060708L, "content"u8));
}
