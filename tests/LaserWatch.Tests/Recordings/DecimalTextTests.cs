using System.Globalization;
using System.Text;
using CsCheck;

namespace LaserWatch.Recordings;

public class DecimalTextTests
{
    [Fact]
    public void Every_number_reads_to_the_bits_of_double_parse()
    {
        var digits = Gen.Char["0123456789"].Array[0, 20].Select(chars => new string(chars));
        var plain = Gen.Select(Gen.OneOf("", "-"), digits, Gen.OneOf("", "."), digits, (sign, whole, point, fraction) => sign + whole + point + fraction);
        var shortest = Gen.Double.Select(d => d.ToString("R", CultureInfo.InvariantCulture));
        var sensor = Gen.Select(Gen.Int[-100_000, 100_000], Gen.Int[0, 5], (n, places) =>
            (n / Math.Pow(10, places)).ToString("F" + places, CultureInfo.InvariantCulture));

        Gen.OneOf(plain, shortest, sensor).Sample(
            text =>
            {
                var read = DecimalText.TryParse(Encoding.ASCII.GetBytes(text), out var value);
                var model = double.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out var expected) && double.IsFinite(expected);
                Assert.Equal(model, read);
                if (model)
                    Assert.Equal(BitConverter.DoubleToInt64Bits(expected), BitConverter.DoubleToInt64Bits(value));
            },
            iter: 200_000);
    }

    [Theory]
    [InlineData("18.2,", 18.2, 4)]
    [InlineData("-0.5 ", -0.5, 4)]
    [InlineData("9007199254740992", 9007199254740992, 16)]
    [InlineData("9007199254740993", 0, 0)] // beyond 2^53: not exact this way
    [InlineData("0.00000000000000000001", 0, 0)] // more than 19 digits
    [InlineData("12e3", 12, 2)]
    [InlineData("-", 0, 0)]
    [InlineData(".", 0, 0)]
    [InlineData("", 0, 0)]
    [InlineData("x", 0, 0)]
    public void A_plain_decimal_is_taken_as_far_as_it_goes(string text, double value, int length)
    {
        var taken = DecimalText.ReadPlain(Encoding.ASCII.GetBytes(text), out var read);

        Assert.Equal((length, value), (taken, read));
    }
}
