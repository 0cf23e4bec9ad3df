using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Mqtt;
using LaserWatch.Telemetry;
using Microsoft.Extensions.Time.Testing;
using MimeKit;
using SmtpServer.Protocol;

namespace LaserWatch.Delivery;

public class MailOutletTests
{
    private static readonly MessageText Text = new(new LocalClock("Europe/Berlin"), "laserwatch");
    private static readonly Instant At = Instant.From(DeliveryBench.Start);

    [Fact]
    public async Task An_alarm_comes_as_a_mail_that_says_what_where_since_when_and_what_to_check_first()
    {
        await using var sink = new MailSink();
        var change = Change();

        Assert.Equal(OutletAnswer.Delivered, await Outlet(sink.Options).SendAsync(Message(change), CancellationToken.None));

        var mail = Assert.Single(sink.Mails);
        Assert.Equal("ALARM: air-pressure-low at bay1 (high)", mail.Subject);
        Assert.Equal(("\"Laser bay\" <laser@shop.example>", "ana@shop.example"), (mail.From.ToString(), mail.To.ToString()));
        Assert.Equal($"{change.Id()}@shop.example", mail.MessageId);
        Assert.Equal("auto-generated", mail.Headers["Auto-Submitted"]);
        Assert.Equal(
            """
              What       air-pressure-low: air pressure is low
              Where      bay1, job birch-6-cut
              Measured   151 kPa, limit 189 kPa
              Since      2026-03-09 09:00:00 +01:00
              Priority   high
              State      unacknowledged

            Check first:
              1. Look at the regulator.
              2. Feel for kinks.

            To say that you have seen it, where the agent runs:
              laserwatch alarms ack bay1 air-pressure-low --by YOUR-NAME
            or publish on laserwatch/bay1/command
              {"do":"acknowledge","condition":"air-pressure-low","by":"YOUR-NAME"}

            LaserWatch advises, and is no safety device. Local codes and licensed practice go first.

            """.ReplaceLineEndings("\n").TrimEnd(), mail.TextBody!.ReplaceLineEndings("\n").TrimEnd());
    }

    [Fact]
    public async Task An_end_stands_beside_its_alarm_and_a_late_one_says_so()
    {
        await using var sink = new MailSink();
        var raised = Change();
        var ended = raised with { Time = At + TimeSpan.FromMinutes(5), State = AlarmState.Normal, By = null };
        var message = new AlarmMessage(ended.Id(), MessageCause.News, [new(ended, AlarmTransition.Ended, raised, null, [])], ended.Time, IsLate: true);
        await Outlet(sink.Options).SendAsync(message, CancellationToken.None);

        var mail = Assert.Single(sink.Mails);
        Assert.Equal("LATE: Ended: air-pressure-low at bay1 (high)", mail.Subject);
        Assert.Equal($"{raised.Id()}@shop.example", mail.InReplyTo);
        Assert.Equal("true", mail.Headers["Laserwatch-Late"]);
        Assert.Contains("This comes late: it was due at 2026-03-09 09:05:00 +01:00", mail.TextBody!, StringComparison.Ordinal);
        Assert.Contains("  Ended      2026-03-09 09:05:00 +01:00", mail.TextBody!, StringComparison.Ordinal);
        Assert.DoesNotContain("Check first", mail.TextBody!, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Several_alarms_are_one_mail_with_their_number_in_the_subject()
    {
        await using var sink = new MailSink();
        var one = Change();
        var two = Change() with { Condition = "tube-life", State = AlarmState.Normal, Time = At + TimeSpan.FromHours(1) };
        var message = new AlarmMessage(new string('a', 32), MessageCause.Gathered, [new(one, AlarmTransition.Raised, null, null, []), new(two, AlarmTransition.Ended, null, null, [])], At);
        await Outlet(sink.Options).SendAsync(message, CancellationToken.None);

        var mail = Assert.Single(sink.Mails);
        Assert.Equal("2 alarms (1 raised, 1 ended), first: air-pressure-low at bay1 (high)", mail.Subject);
        Assert.Contains("1. ALARM: air-pressure-low at bay1 (high)\n", mail.TextBody!.ReplaceLineEndings("\n"), StringComparison.Ordinal);
        Assert.Contains("2. Ended: tube-life at bay1 (high)\n", mail.TextBody!.ReplaceLineEndings("\n"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Line_breaks_from_outside_make_no_header_and_no_line_of_their_own()
    {
        await using var sink = new MailSink();
        var change = Change() with { Machine = "bay1\r\nBcc: eve@evil.example\r\n", Condition = "x\n\nX-Evil: 1", Message = "low\r\n  State      normal\u2028", Job = "a\nb" };
        await Outlet(sink.Options).SendAsync(Message(change), CancellationToken.None);

        var mail = Assert.Single(sink.Mails);
        Assert.Empty(mail.Bcc);
        Assert.DoesNotContain(mail.Headers, h => h.Field is "X-Evil" or "Bcc");
        Assert.DoesNotContain(mail.Subject!, c => char.IsControl(c));
        Assert.DoesNotContain(mail.TextBody!.ReplaceLineEndings("\n").Split('\n'), line => line.StartsWith("  State      normal", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(MailSecurity.StartTls)]
    [InlineData(MailSecurity.Tls)]
    public async Task Encrypted_and_with_user_and_password_it_gets_in(MailSecurity security)
    {
        using var password = new TemporaryFile("let me in\n");
        await using var sink = new MailSink(security, asksForUser: true);
        var options = sink.Options with { User = "laser", Password = new Secret { File = password.Path } };

        Assert.Equal(OutletAnswer.Delivered, await Outlet(options).SendAsync(Message(Change()), CancellationToken.None));
        Assert.Single(sink.Mails);
        Assert.False(sink.SawPlainPassword);
    }

    [Fact]
    public async Task A_wrong_password_waits_and_says_what_to_put_right_and_not_the_password()
    {
        using var password = new TemporaryFile("guess");
        await using var sink = new MailSink(MailSecurity.StartTls, asksForUser: true);

        var answer = await Outlet(sink.Options with { User = "laser", Password = new Secret { File = password.Path } }).SendAsync(Message(Change()), CancellationToken.None);

        Assert.Equal(OutletOutcome.Later, answer.Outcome);
        Assert.StartsWith("127.0.0.1 does not let laser in: ", answer.Why, StringComparison.Ordinal);
        Assert.EndsWith("put 'user' and 'password' right", answer.Why, StringComparison.Ordinal);
        Assert.DoesNotContain("guess", answer.Why, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_server_that_nobody_vouches_for_gets_nothing()
    {
        await using var sink = new MailSink(MailSecurity.StartTls);
        await using var other = new MailSink(MailSecurity.StartTls, start: false);

        var stranger = await Outlet(sink.Options with { CaFile = null }).SendAsync(Message(Change()), CancellationToken.None);
        var wrong = await Outlet(sink.Options with { CaFile = other.CaFile }).SendAsync(Message(Change()), CancellationToken.None);

        Assert.Equal((OutletOutcome.Later, OutletOutcome.Later), (stranger.Outcome, wrong.Outcome));
        Assert.StartsWith($"no encryption with 127.0.0.1:{sink.Port}", wrong.Why, StringComparison.Ordinal);
        Assert.Empty(sink.Mails);
    }

    [Fact]
    public async Task A_server_without_encryption_gets_nothing_where_it_was_asked_for()
    {
        await using var sink = new MailSink();

        var answer = await Outlet(sink.Options with { Security = MailSecurity.StartTls }).SendAsync(Message(Change()), CancellationToken.None);

        Assert.Equal(OutletOutcome.Later, answer.Outcome);
        Assert.Empty(sink.Mails);
    }

    [Fact]
    public async Task One_address_that_is_not_taken_does_not_silence_the_others_and_is_told()
    {
        await using var sink = new MailSink();
        sink.Unknown.Add("old@shop.example");

        var answer = await Outlet(sink.Options with { To = ["old@shop.example", "ana@shop.example"] }).SendAsync(Message(Change()), CancellationToken.None);

        Assert.Equal(OutletOutcome.Delivered, answer.Outcome);
        Assert.StartsWith("127.0.0.1 does not take it for old@shop.example (550 ", answer.Why, StringComparison.Ordinal);
        Assert.Single(sink.Mails);
    }

    [Fact]
    public async Task Where_no_address_is_taken_it_is_refused_for_good()
    {
        await using var sink = new MailSink();
        sink.Unknown.Add("ana@shop.example");

        Assert.Equal(OutletOutcome.Refused, (await Outlet(sink.Options).SendAsync(Message(Change()), CancellationToken.None)).Outcome);
    }

    [Theory]
    [InlineData(451, OutletOutcome.Later)]
    [InlineData(452, OutletOutcome.Later)]
    [InlineData(550, OutletOutcome.Refused)]
    [InlineData(554, OutletOutcome.Refused)]
    public async Task What_the_server_says_of_the_mail_decides(int code, object outcome)
    {
        await using var sink = new MailSink { Says = new SmtpResponse((SmtpReplyCode)code, "no") };

        Assert.Equal((OutletOutcome)outcome, (await Outlet(sink.Options).SendAsync(Message(Change()), CancellationToken.None)).Outcome);
    }

    [Fact]
    public async Task After_an_outage_of_the_server_the_mail_comes_once_and_says_that_it_is_late()
    {
        await using var sink = new MailSink(start: false);
        await using var bench = await new DeliveryBench { Options = new() { Mail = new Dictionary<string, MailOptions> { ["ana"] = sink.Options } } }.StartAsync();
        var change = bench.Post();
        await RealBroker.UntilAsync(() => bench.Outbox.Status.Outlets[0].Failures > 0, "no attempt failed");
        bench.Time.Advance(TimeSpan.FromMinutes(2));
        sink.Start();
        await bench.LaterAsync(() => sink.Mails.Count > 0, "it was not delivered");
        await RealBroker.UntilAsync(() => bench.Outbox.Status.Outlets[0].Delivered == 1, "it was not marked");

        var mail = Assert.Single(sink.Mails);
        Assert.StartsWith("LATE: ALARM", mail.Subject, StringComparison.Ordinal);
        Assert.Equal($"{change.Id()}@shop.example", mail.MessageId);
    }

    private static MailOutlet Outlet(MailOptions options) => new("ana", options, Text, new FakeTimeProvider(DeliveryBench.Start));

    private static AlarmChange Change() => new(
        At, "bay1", "air-pressure-low", AlarmState.Unacknowledged, AlarmPriority.High, 151, 189, "kPa", "birch-6-cut", "air pressure is low", [],
        ["Look at the regulator.", "Feel for kinks."]);

    private static AlarmMessage Message(AlarmChange change) => new(change.Id(), MessageCause.News, [new(change, AlarmTransition.Raised, null, null, [])], At);
}
