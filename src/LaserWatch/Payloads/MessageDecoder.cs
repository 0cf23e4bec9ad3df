using System.Text;
using System.Text.Json;
using System.Text.Unicode;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>From an MQTT message to samples and events.</summary>
/// <remarks>
/// The topic tells the machine and what to expect; the payload is told apart by its first character: a JSON object or array, or one
/// bare value. A time that is there but cannot be read rejects its sample, for nobody knows what the sensor meant; one that can
/// be read but not be true leaves the sample, with arrival time. Messages of the agent itself (<c>…/alarm/…</c>, <c>…/status</c>) decode to nothing.
/// Not safe for several threads.
/// </remarks>
public sealed class MessageDecoder
{
    private const int LongestNumberText = 64;

    private readonly PayloadOptions _options;
    private readonly ChannelTable _channels;
    private readonly TopicRoutes _routes;
    private readonly SenmlDecoder _senml;
    private readonly EventDecoder _events;

    /// <param name="rules">Checked with <see cref="TopicRule.Mistakes"/>.</param>
    /// <param name="machines">The configured machines; they matter only with <see cref="PayloadOptions.OnlyConfiguredMachines"/>.</param>
    /// <param name="channels">Declare channels that are not canonical in it first, so that their units are known.</param>
    /// <exception cref="ArgumentException">A rule has a mistake.</exception>
    public MessageDecoder(
        PayloadOptions options, IReadOnlyList<TopicRule> rules, IReadOnlyCollection<string> machines, ChannelTable channels)
    {
        var declared = channels.All.Where(c => !c.IsCanonical).ToDictionary(c => c.Name, c => c.Unit);
        foreach (var rule in rules)
        {
            if (rule.Mistakes(options.Root, declared).FirstOrDefault() is { } mistake)
                throw new ArgumentException($"The rule for topic '{rule.Topic}' cannot be used: {mistake}", nameof(rules));
        }

        _options = options;
        _channels = channels;
        _routes = new(options, rules, machines, channels);
        _senml = new(options, channels);
        _events = new(options);
    }

    /// <summary>How far a sensor's clock may be ahead of arrival and still be believed.</summary>
    public TimeSpan MostAhead => TimeSpan.FromSeconds(_options.FutureLimitSeconds);

    /// <summary>Decodes one message. Never throws, whatever the bytes; allocates nothing for a good sample of a known topic.</summary>
    /// <param name="arrival">When the message came; the time of samples that carry none. See <see cref="ArrivalClock"/>.</param>
    /// <param name="part">
    /// From 0, below what is returned. A message is one machine's, but for a sensor that several share (of the room, the compressor, the
    /// chiller): it has a part for each.
    /// </param>
    /// <returns>How many parts the message has: 1, or as many as there are machines that share the sensor.</returns>
    /// <exception cref="ArgumentOutOfRangeException">The message has no such part.</exception>
    public int Decode(string topic, ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into, int part = 0)
    {
        into.Clear();
        var routes = _routes.Find(topic);
        if ((uint)part >= (uint)routes.Length)
            throw new ArgumentOutOfRangeException(nameof(part), part, $"The message has {routes.Length} part(s).");
        DecodeRoute(routes[part], payload, arrival, into);
        return routes.Length;
    }

    private void DecodeRoute(Route route, ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into)
    {
        into.Machine = route.Machine;
        if (route.Kind == RouteKind.Ignored)
            return;
        if (route.Kind == RouteKind.Rejected)
            into.Reject(route.Rejection, route.Detail);
        else if (payload.Length > _options.MaxPayloadBytes)
            into.Reject(Rejection.PayloadTooLarge, $"{payload.Length} bytes, at most {_options.MaxPayloadBytes} are taken");
        else if (!Utf8.IsValid(payload))
            into.Reject(Rejection.NotUtf8, "the payload is not UTF-8 text");
        else
            DecodeText(route, PayloadText.Trim(payload), arrival, into);
    }

    private void DecodeText(Route route, ReadOnlySpan<byte> text, Instant arrival, DecodedMessage into)
    {
        if (text.IsEmpty)
        {
            into.Reject(route.Kind == RouteKind.Values ? Rejection.ValueMissing : Rejection.MalformedEvent, "the payload is empty");
            return;
        }

        if (route.Kind == RouteKind.Values && text[0] is not ((byte)'{' or (byte)'[' or (byte)'"'))
        {
            DecodeBare(route, text, arrival, into);
            return;
        }

        try
        {
            RequireWhole(text);
            switch (route.Kind)
            {
                case RouteKind.Job:
                    _events.DecodeJob(route.Machine!, text, arrival, into);
                    break;
                case RouteKind.Service:
                    _events.DecodeService(route.Machine!, text, arrival, into);
                    break;
                case RouteKind.Command:
                    _events.DecodeCommand(route.Machine!, text, arrival, into);
                    break;
                default:
                    DecodeJson(route, text, arrival, into);
                    break;
            }
        }
        catch (JsonException malformed)
        {
            into.Spoil(Rejection.MalformedJson, $"not JSON at byte {malformed.BytePositionInLine} of line {malformed.LineNumber + 1}: {PayloadText.Quote(text)}");
        }
        catch (InvalidOperationException)
        {
            // What the reader says of \u escapes that are half a character: JSON by its grammar, but no text.
            into.Spoil(Rejection.MalformedJson, "a \\u escape in it is half a character");
        }
    }

    // Nothing is taken from a message that was cut short on its way.
    private void RequireWhole(ReadOnlySpan<byte> text)
    {
        var reader = Read(text);
        while (reader.Read())
        {
        }
    }

    private void DecodeBare(Route route, ReadOnlySpan<byte> text, Instant arrival, DecodedMessage into)
    {
        foreach (var feed in route.Feeds)
        {
            if (feed.HasValuePointer && !feed.ValuePointer.IsRoot)
            {
                if (!feed.MayBeMissing)
                    into.Reject(Rejection.ValueMissing, $"a bare value, where JSON with {feed.ValuePointer} was expected");
                continue;
            }

            var rejection = TryParseScalar(text, feed.TakesBooleans, out var raw);
            if (rejection == Rejection.None)
                Take(feed, raw, arrival, skewed: false, into);
            else
                into.Reject(rejection, $"{PayloadText.Quote(text)} is no {(feed.TakesBooleans ? "number, true or false" : "number")}{Hint(text)}");
        }
    }

    private void DecodeJson(Route route, ReadOnlySpan<byte> text, Instant arrival, DecodedMessage into)
    {
        var isPack = false;
        foreach (var feed in route.Feeds)
        {
            if (!feed.HasValuePointer && text[0] == '[')
                isPack = true;
            else
                DecodeByPointer(feed, text, arrival, into);
        }

        if (isPack)
            _senml.Decode(route, text, arrival, into);
    }

    private void DecodeByPointer(Feed feed, ReadOnlySpan<byte> text, Instant arrival, DecodedMessage into)
    {
        var reader = Read(text);
        if (!feed.HasValuePointer && text[0] == '"')
        {
            reader.Read();
        }
        else if (!feed.ValuePointer.TryFind(ref reader))
        {
            if (!feed.MayBeMissing)
                into.Reject(Rejection.ValueMissing, $"nothing at {feed.ValuePointer}{(feed.HasValuePointer ? "" : "; give a valuePointer for other JSON")}");
            return;
        }

        var rejection = TryReadValue(ref reader, feed.TakesBooleans, out var raw);
        if (rejection != Rejection.None)
        {
            into.Reject(rejection, $"{feed.ValuePointer} is no {(feed.TakesBooleans ? "number, true or false" : "number")}: {PayloadText.Quote(reader.ValueSpan)}");
            return;
        }

        var at = arrival;
        var skewed = false;
        if (feed.TimePointer is { } timePointer && text[0] != '"')
        {
            var timeReader = Read(text);
            if (!timePointer.TryFind(ref timeReader))
            {
                skewed = feed.TimeIsExpected;
            }
            else if (!SensorTime.TryRead(ref timeReader, out var time))
            {
                into.Reject(
                    Rejection.MalformedTime,
                    $"{timePointer} is neither RFC 3339 with an offset nor a number since 1970: {PayloadText.Quote(timeReader.ValueSpan)}");
                return;
            }
            else if (time is { } told)
            {
                at = SensorTime.Believe(told, arrival, _options, out skewed);
            }
        }

        Take(feed, raw, at, skewed, into);
    }

    private void Take(Feed feed, double raw, Instant at, bool skewed, DecodedMessage into)
    {
        var settled = feed.TrySettle(_channels);
        if (settled != Rejection.None)
        {
            into.Reject(settled, feed.ChannelName is null
                ? "nothing tells the channel of this topic: name it in the rule"
                : $"channel '{feed.ChannelName}' cannot be added");
        }
        else if (feed.UnitMistake is { } mistake)
        {
            into.Reject(Rejection.UnitUnknown, mistake);
        }
        else if (into.TryAdd(feed.Channel!, feed.Chain, feed.Conversion, raw, at) && skewed)
        {
            into.SkewedTimes++;
        }
    }

    private static Rejection TryReadValue(ref Utf8JsonReader reader, bool takesBooleans, out double value)
    {
        value = 0;
        switch (reader.TokenType)
        {
            case JsonTokenType.Number:
                return NumberText.TryParse(reader.ValueSpan, out value);
            case JsonTokenType.String:
                if (reader.ValueSpan.Length > LongestNumberText)
                    return Rejection.NotANumber;
                Span<byte> buffer = stackalloc byte[LongestNumberText];
                return TryParseScalar(PayloadText.Trim(buffer[..reader.CopyString(buffer)]), takesBooleans, out value);
            case JsonTokenType.True or JsonTokenType.False:
                value = reader.TokenType == JsonTokenType.True ? 1 : 0;
                return takesBooleans ? Rejection.None : Rejection.NotANumber;
            default:
                return Rejection.ValueMissing; // null, or something with members of its own
        }
    }

    // ON and OFF are what switching relays publish; there is no other way to read them, so on/off channels take them.
    private static Rejection TryParseScalar(ReadOnlySpan<byte> text, bool takesBooleans, out double value)
    {
        if (takesBooleans)
        {
            if (text.SequenceEqual("true"u8) || Ascii.EqualsIgnoreCase(text, "on"u8))
            {
                value = 1;
                return Rejection.None;
            }

            if (text.SequenceEqual("false"u8) || Ascii.EqualsIgnoreCase(text, "off"u8))
            {
                value = 0;
                return Rejection.None;
            }
        }

        return NumberText.TryParse(text, out value);
    }

    private static string Hint(ReadOnlySpan<byte> text) =>
        text.Contains((byte)',') ? "; the decimal sign is a point" : "";

    private Utf8JsonReader Read(ReadOnlySpan<byte> text) => new(text, new JsonReaderOptions { MaxDepth = _options.MaxJsonDepth });
}
