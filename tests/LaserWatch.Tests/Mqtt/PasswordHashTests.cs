namespace LaserWatch.Mqtt;

public class PasswordHashTests
{
    [Fact]
    public void A_hash_knows_its_password_again_and_no_other()
    {
        var text = PasswordHash.Of("gläserner Laser").ToString();

        Assert.True(PasswordHash.TryParse(text, out var hash));
        Assert.True(hash.IsOf("gläserner Laser"u8));
        Assert.False(hash.IsOf("gläserner laser"u8));
        Assert.False(hash.IsOf(""u8));
        Assert.NotEqual(text, PasswordHash.Of("gläserner Laser").ToString());
    }

    // Made by: openssl kdf -keylen 32 -kdfopt digest:SHA256 -kdfopt pass:correct -kdfopt salt:0123456789abcdef -kdfopt iter:10000 -binary PBKDF2 | base64
    [Fact]
    public void It_is_the_PBKDF2_of_other_programs()
    {
        Assert.True(PasswordHash.TryParse("pbkdf2-sha256$10000$MDEyMzQ1Njc4OWFiY2RlZg==$ThqqVyXK9MHwOUqsa5+GZdztkxnPlTAtL/iut/eBTr8=", out var hash));
        Assert.True(hash.IsOf("correct"u8));
    }

    [Theory]
    [InlineData("")]
    [InlineData("secret")]
    [InlineData("pbkdf2-sha256$1$MDEyMzQ1Njc4OWFiY2RlZg==$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=")]
    [InlineData("pbkdf2-sha256$999999999$MDEyMzQ1Njc4OWFiY2RlZg==$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=")]
    [InlineData("pbkdf2-sha256$10000$MDEy$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=")]
    [InlineData("pbkdf2-sha256$10000$MDEyMzQ1Njc4OWFiY2RlZg==$AAAA")]
    [InlineData("pbkdf2-sha256$10000$MDEyMzQ1Njc4OWFiY2RlZg==$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=$")]
    [InlineData("pbkdf2-sha1$10000$MDEyMzQ1Njc4OWFiY2RlZg==$AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA=")]
    public void What_is_no_such_hash_or_costs_nothing_or_too_much_is_refused(string text) => Assert.False(PasswordHash.TryParse(text, out _));
}
