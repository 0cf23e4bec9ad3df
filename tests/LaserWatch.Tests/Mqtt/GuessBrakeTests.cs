using System.Globalization;
using System.Net;
using Microsoft.Extensions.Time.Testing;

namespace LaserWatch.Mqtt;

public class GuessBrakeTests
{
    private static readonly IPAddress Here = IPAddress.Parse("192.168.1.7");
    private static readonly IPAddress There = IPAddress.Parse("192.168.1.8");

    private readonly FakeTimeProvider _time = new();
    private readonly GuessBrake _brake;

    public GuessBrakeTests() => _brake = new(_time);

    [Fact]
    public void After_five_wrong_passwords_of_a_name_one_more_is_granted_every_half_minute()
    {
        Assert.Equal(GuessBrake.TriesOfName, Granted(Here, "ana", 20));

        _time.Advance(GuessBrake.NameWait);
        Assert.Equal(1, Granted(Here, "ana", 20));
    }

    [Fact]
    public void A_guesser_shuts_out_neither_the_same_name_elsewhere_nor_another_name_at_his_address()
    {
        Granted(Here, "ana", 1000);

        Assert.True(_brake.MayTry(There, "ana"));
        Assert.True(_brake.MayTry(Here, "ben"));
    }

    [Fact]
    public void Guessing_names_at_one_address_is_bounded_too_and_comes_back_with_time()
    {
        var granted = Enumerable.Range(0, 200).Count(i => _brake.MayTry(Here, $"user{i}"));
        Assert.Equal(GuessBrake.TriesOfAddress, granted);
        Assert.True(_brake.MayTry(There, "user0"));

        _time.Advance(GuessBrake.AddressWait);
        Assert.True(_brake.MayTry(Here, "another"));
    }

    [Fact]
    public void The_right_password_is_no_guess_however_often_it_comes()
    {
        for (var i = 0; i < 1000; i++)
        {
            Assert.True(_brake.MayTry(Here, "ana"));
            _brake.WasRight(Here, "ana");
        }
    }

    [Fact]
    public void Tries_that_are_under_way_at_once_count_before_they_are_answered()
    {
        var granted = 0;
        Parallel.For(0, 100, _ =>
        {
            if (_brake.MayTry(Here, "ana"))
                Interlocked.Increment(ref granted);
        });
        Assert.Equal(GuessBrake.TriesOfName, granted);
    }

    [Fact]
    public void All_addresses_of_one_IPv6_network_are_one()
    {
        var granted = Enumerable.Range(1, 20).Count(i => _brake.MayTry(IPAddress.Parse(string.Create(CultureInfo.InvariantCulture, $"2001:db8::{i:x}")), "ana"));
        Assert.Equal(GuessBrake.TriesOfName, granted);
        Assert.True(_brake.MayTry(IPAddress.Parse("2001:db8:0:1::1"), "ana"));
        Granted(Here, "ben", 20);
        Assert.False(_brake.MayTry(Here.MapToIPv6(), "ben"));
    }

    [Fact]
    public void However_many_come_only_so_much_is_remembered()
    {
        for (var i = 0; i < 10_000; i++)
            _brake.MayTry(new IPAddress(i + 1), new string('x', 10_000));
        Assert.InRange(_brake.Remembered, 1, GuessBrake.MostRemembered);
    }

    private int Granted(IPAddress address, string user, int tries) => Enumerable.Range(0, tries).Count(_ => _brake.MayTry(address, user));
}
