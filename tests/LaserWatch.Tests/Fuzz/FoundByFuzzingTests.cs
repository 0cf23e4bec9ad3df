using System.Text;
using System.Text.Json;
using LaserWatch.Alarms;
using LaserWatch.Configuration;
using LaserWatch.Jobs;
using LaserWatch.Monitoring;
using LaserWatch.Mqtt;
using LaserWatch.Payloads;
using LaserWatch.Proof;
using LaserWatch.Recordings;
using LaserWatch.Storage.Influx;
using LaserWatch.Storage.Packing;
using LaserWatch.Telemetry;

namespace LaserWatch.Fuzz;

/// <summary>The least inputs of what the random ones found, kept by name.</summary>
public sealed class FoundByFuzzingTests : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("laserwatch-found-");

    public void Dispose() => _folder.Delete(recursive: true);

    [Theory]
    [InlineData("{\"time\":\"2026-03-09T07:30:00Z\",\"machine\":\"1\",\"condition\":\"\u00ff\"}")]
    [InlineData("{\"time\":\"2026-03-09T07:30:00Z\",\"machine\":\"\\ud800\",\"condition\":\"1\"}")]
    [InlineData("n\u0018")]
    public void An_alarm_whose_text_is_none_is_refused_in_one_line(string bytes)
    {
        Assert.False(AlarmJson.TryRead(Encoding.Latin1.GetBytes(bytes), out _, out var mistake));
        Fuzzing.AssertSayable(mistake);
    }

    [Fact]
    public void What_is_said_of_an_unread_line_quotes_no_control_character_of_it()
    {
        using var reader = new RecordingReader(new MemoryStream("job_run,machine=\0 t=t 7"u8.ToArray()), new ChannelTable());

        Assert.Null(reader.Read());
        Fuzzing.AssertSayable(Assert.Single(reader.Counts.FirstUnread).ToString());
    }

    [Fact]
    public void A_configuration_of_half_a_word_is_one_mistake_in_one_line()
    {
        var file = Path.Combine(_folder.FullName, "laserwatch.json");
        File.WriteAllText(file, "n\n");

        Fuzzing.AssertSayable(Assert.Single(ConfigurationFile.Read(file).Mistakes).ToString());
    }

    /// <summary>The key names a curve that this platform has not: one bit of P-256's object identifier was turned.</summary>
    [Fact]
    public void A_key_on_an_unknown_curve_verifies_nothing()
    {
        var key = Convert.FromBase64String("MFkwEwYHKoZIzj0CAQYIKoZIz60DAQcDQgAEK1z3pAM9iGeCkekMdc1cTWf36+B1DEUcrRQwmR0wWic+qhe8Kb5G3xtW2+CPgibJNA+EGilPcZPql83EDFZqhQ==");

        Assert.False(SigningKey.Verifies(key, [1], [2]));
    }

    [Fact]
    public void A_finding_that_quotes_a_file_stays_one_line() =>
        Assert.Equal(
            "the line is of the machine bay1\uFFFDWHOLE. All samples; the proof is of bay1",
            new Finding(null, null, null, FindingKinds.Added, "the line is of the machine bay1\nWHOLE. All samples; the proof is of bay1").ToString());

    [Fact]
    public async Task A_retained_message_that_is_none_is_damage()
    {
        var file = Path.Combine(_folder.FullName, "retained.json");
        await File.WriteAllTextAsync(file, "[null]");
        await Assert.ThrowsAsync<JsonException>(() => RetainedFile.LoadAsync(file, CancellationToken.None));

        await File.WriteAllTextAsync(file, "n\u0018");
        Fuzzing.AssertSayable((await Assert.ThrowsAsync<JsonException>(() => RetainedFile.LoadAsync(file, CancellationToken.None))).Message);
    }

    [Fact]
    public void An_error_of_a_server_is_passed_on_in_one_line()
    {
        Fuzzing.AssertSayable(Assert.Throws<InfluxFaultException>(() => QueryAnswer.Read("{\"error\":\"a\\nb\"}"u8)).Message);
        Fuzzing.AssertSayable(Assert.Throws<InfluxFaultException>(() => QueryAnswer.Read("{\"\":t\0"u8)).Message);
        Fuzzing.AssertSayable(QueryAnswer.ErrorOf("{\"error\":\"\\ud800\"}"u8));
    }

    [Fact]
    public void A_state_with_one_bit_turned_is_refused()
    {
        var state = new MachineWatch("bay1", MonitorOptions.Default, new JobBook()).Save();
        for (var at = 0; at < state.Length; at += 11)
        {
            state[at] ^= 0x10;
            Assert.False(new MachineWatch("bay1", MonitorOptions.Default, new JobBook()).TryRestore(state));
            state[at] ^= 0x10;
        }

        Assert.True(new MachineWatch("bay1", MonitorOptions.Default, new JobBook()).TryRestore(state));
    }

    [Fact]
    public void A_pack_of_base_fields_alone_is_no_measurement_and_says_so()
    {
        var message = new DecodedMessage();
        new MessageDecoder(PayloadOptions.Default, [], [], new ChannelTable()).Decode("laserwatch/bay1/coolant_in", "[{\"bv\":5}]"u8, new Instant(1773041400000000000), message);

        Assert.Equal((Rejection.ValueMissing, "the SenML pack has base fields alone, and no measurement"), (message.Rejection, message.RejectionDetail));
    }

    [Fact]
    public void A_configurations_key_is_quoted_without_what_moves_a_cursor()
    {
        var file = Path.Combine(_folder.FullName, "laserwatch.json");
        File.WriteAllText(file, "{\"\\u001b[2J\":1}");

        Fuzzing.AssertSayable(Assert.Single(ConfigurationFile.Read(file).Mistakes).ToString());
    }

    [Fact]
    public void A_packed_block_of_a_few_bytes_takes_no_gigabytes_on_its_word()
    {
        var block = new PackWriter();
        block.WriteNumber(268_000_000);

        Assert.Throws<InvalidDataException>(() =>
        {
            var from = new PackReader(block.Written);
            _ = PackedTimes.ReadCount(ref from);
        });
    }
}
