using System.Text.Json;
using LaserWatch.Calibration;
using LaserWatch.Telemetry;

namespace LaserWatch.Payloads;

/// <summary>SenML packs in JSON (RFC 8428): base fields applied, times made absolute, units converted.</summary>
/// <remarks>
/// The name of a record tells its channel: the whole name or its last part (after ':' or '/') where the rule maps it, else the last part where
/// it is a known channel, else the topic's own channel where the pack has one name only, else the last part as a channel that is not canonical.
/// A record of text, data or only a sum is no measurement, and is reported; a base field that cannot be read, a label that
/// must be understood (it ends in '_') and is not, or a version above 10 spoils the whole pack.
/// </remarks>
internal sealed class SenmlDecoder(PayloadOptions options, ChannelTable channels)
{
    private const int HighestVersion = 10;
    private const decimal RelativeBelow = 1 << 28;
    private const int LongestName = 256;
    private const int LongestUnit = 64;

    // Channels of this index or above were met, not declared: a name must not become known by having been guessed once.
    private readonly int _declared = channels.All.Count;

    private readonly char[] _baseName = new char[LongestName];
    private readonly char[] _ownName = new char[LongestName];
    private readonly char[] _baseUnit = new char[LongestUnit];
    private readonly char[] _ownUnit = new char[LongestUnit];
    private readonly char[] _name = new char[2 * LongestName];
    private readonly char[] _firstName = new char[2 * LongestName];

    private int _baseNameLength;
    private int _baseUnitLength;
    private bool _hasOneName;
    private decimal _baseTime;
    private double? _baseValue;
    private int? _version;

    /// <param name="payload">Known to be whole, valid JSON.</param>
    public void Decode(Route route, ReadOnlySpan<byte> payload, Instant arrival, DecodedMessage into)
    {
        _hasOneName = HasOneName(payload);
        _baseNameLength = _baseUnitLength = 0;
        _baseTime = 0;
        _baseValue = null;
        _version = null;

        var reader = Read(payload);
        reader.Read();
        var number = 0;
        while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
        {
            number++;
            var mistake = reader.TokenType == JsonTokenType.StartObject
                ? TakeRecord(ref reader, number, route, arrival, into)
                : "is no object; for JSON that is no SenML give a valuePointer";
            if (mistake is null)
                continue;
            into.Spoil(Rejection.MalformedSenml, $"record {number} {mistake}");
            return;
        }

        if (number == 0)
            into.Reject(Rejection.ValueMissing, "the SenML pack has no records");
        else if (into is { Rejection: Rejection.None, Samples.Count: 0, FailedSensor: null })
            into.Reject(Rejection.ValueMissing, "the SenML pack has base fields alone, and no measurement");
    }

    /// <returns>What spoils the whole pack; null where nothing does.</returns>
    private string? TakeRecord(ref Utf8JsonReader reader, int number, Route route, Instant arrival, DecodedMessage into)
    {
        var record = default(Fields);
        if (ReadFields(ref reader, ref record) is { } unreadable)
            return unreadable;
        if (record.Version is { } version)
        {
            if (version > HighestVersion)
                return $"is of SenML version {version}; known are versions up to {HighestVersion}";
            if (_version is { } before && before != version)
                return $"is of SenML version {version}, records before it of version {before}";
            _version = version;
        }

        if (record.BaseNameLength is { } baseNameLength)
            _baseNameLength = baseNameLength;
        if (record.BaseUnitLength is { } baseUnitLength)
            _baseUnitLength = baseUnitLength;
        _baseTime = record.BaseTime ?? _baseTime;
        _baseValue = record.BaseValue ?? _baseValue;

        if (record.Values > 1)
            return "has more than one of v, vs, vb and vd";
        var isBaseOnly = record.Values == 0 && !record.HasSum && (_baseValue is null || record.NameLength is null);
        if (isBaseOnly)
            return record.NameLength is null && record.HasBaseField ? null : "has no value";

        var name = Name(record.NameLength ?? 0);
        if (NameMistake(name) is { } badName)
            return badName;

        if (RawValue(in record, out var isBoolean) is not { } raw)
        {
            into.Reject(record.Rejection, $"record {number} ({PayloadText.Quote(name)}) {record.Why}");
            return null;
        }

        ReadOnlySpan<char> unit = record.UnitLength is { } own ? _ownUnit.AsSpan(0, own) : _baseUnit.AsSpan(0, _baseUnitLength);
        var total = _baseTime + (record.Time ?? 0);
        var time = total < RelativeBelow
            ? SensorTime.FromSeconds(total + (arrival.UnixNanoseconds / 1_000_000_000m))
            : SensorTime.FromSeconds(total);
        time = total == 0 ? arrival : SensorTime.Believe(time, arrival, options, out record.Skewed);
        if (FindFeed(route, name, unit, number, into) is not { } target)
            return null;
        Take(target.Feed, target.Channel, raw, isBoolean, unit, time, record.Skewed, number, into);
        return null;
    }

    private void Take(
        Feed? feed, Channel channel, double raw, bool isBoolean, ReadOnlySpan<char> unit, Instant at, bool skewed, int number,
        DecodedMessage into)
    {
        if (isBoolean && channel.Unit.Length > 0)
        {
            into.Reject(Rejection.NotANumber, $"record {number}: true and false have no meaning for {channel.Name}, which is in {channel.Unit}");
            return;
        }

        var chain = feed?.Chain ?? CalibrationChain.Empty;
        var conversion = feed?.Conversion ?? UnitConversion.Identity;
        var unitMistake = feed?.UnitMistake;
        if (unit.Length > 0 && !chain.IsEmpty && chain.RawUnit is { } wanted)
        {
            // The sensor names the unit of what it sends; the steps take theirs.
            if (Units.TryGet(wanted, unit, out var toStep))
                raw = toStep.Apply(raw);
            else
                unitMistake = Units.Explain(channel.Name, wanted, unit.ToString());
        }
        else if (unit.Length > 0 && (chain.IsEmpty || !feed!.UnitIsGiven))
        {
            unitMistake = null;
            if (!Units.TryGet(channel.Unit, unit, out conversion))
                unitMistake = Units.Explain(channel.Name, channel.Unit, unit.ToString());
        }

        if (unitMistake is not null)
            into.Reject(Rejection.UnitUnknown, $"record {number}: {unitMistake}");
        else if (into.TryAdd(channel, chain, conversion, raw, at) && skewed)
            into.SkewedTimes++;
    }

    private (Feed? Feed, Channel Channel)? FindFeed(
        Route route, ReadOnlySpan<char> name, ReadOnlySpan<char> unit, int number, DecodedMessage into)
    {
        var last = name[(name.TrimEnd(":/").LastIndexOfAny(':', '/') + 1)..].TrimEnd(":/");
        var wanted = last;
        var isMapped = false;
        Feed? ofTopic = null;
        foreach (var feed in route.Feeds)
        {
            if (feed.HasValuePointer)
                continue;
            if (feed.Names is { } names)
            {
                var byName = names.GetAlternateLookup<ReadOnlySpan<char>>();
                if (!isMapped && (byName.TryGetValue(name, out var mapped) || byName.TryGetValue(last, out mapped)))
                {
                    wanted = mapped;
                    isMapped = true;
                }
            }

            if (feed.ChannelIsGiven || (feed.Channel is { } declared && declared.Index < _declared))
                ofTopic ??= feed;
        }

        var isKnown = channels.TryFind(wanted, out var channel);
        foreach (var feed in route.Feeds)
        {
            if (!feed.HasValuePointer && feed.ChannelName is { } fed && wanted.SequenceEqual(fed) && feed.TrySettle(channels) == Rejection.None)
                return (feed, feed.Channel!);
        }

        // Only a pack of one name can be the topic's own channel: a second name would mix two sensors.
        var isDeclared = isKnown && channel!.Index < _declared;
        if (!isMapped && !isDeclared && _hasOneName && ofTopic is not null && ofTopic.TrySettle(channels) == Rejection.None)
            return (ofTopic, ofTopic.Channel!);

        if (isKnown || channels.TryGet(wanted, unit, out channel))
            return (null, channel!);
        var full = ChannelTable.IsValidName(wanted);
        into.Reject(
            full ? Rejection.TooManyChannels : Rejection.UnknownChannel,
            full ? $"record {number}: no room for a new channel {PayloadText.Quote(wanted)}"
                : $"record {number}: {PayloadText.Quote(name)} does not end in a channel name: map it in names");
        return null;
    }

    /// <summary>True where every measuring record resolves to the same name.</summary>
    private bool HasOneName(ReadOnlySpan<byte> payload)
    {
        _baseNameLength = 0;
        var firstLength = -1;
        var reader = Read(payload);
        reader.Read();
        while (reader.Read() && reader.TokenType == JsonTokenType.StartObject)
        {
            var record = default(Fields);
            if (ReadFields(ref reader, ref record) is not null)
                return false;
            _baseNameLength = record.BaseNameLength ?? _baseNameLength;
            if (record.Values == 0 && record.NameLength is null)
                continue;
            var name = Name(record.NameLength ?? 0);
            if (firstLength < 0)
            {
                name.CopyTo(_firstName);
                firstLength = name.Length;
            }
            else if (!name.SequenceEqual(_firstName.AsSpan(0, firstLength)))
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>Base name and own name as one, in a buffer that the next record uses again.</summary>
    private ReadOnlySpan<char> Name(int ownLength)
    {
        _baseName.AsSpan(0, _baseNameLength).CopyTo(_name);
        _ownName.AsSpan(0, ownLength).CopyTo(_name.AsSpan(_baseNameLength));
        return _name.AsSpan(0, _baseNameLength + ownLength);
    }

    private Utf8JsonReader Read(ReadOnlySpan<byte> payload) => new(payload, new JsonReaderOptions { MaxDepth = options.MaxJsonDepth });

    private double? RawValue(in Fields record, out bool isBoolean)
    {
        isBoolean = record.Boolean is not null;
        if (record.Rejection != Rejection.None)
            return null;
        if (record.Boolean is { } on)
            return on ? 1 : 0;
        return (record.Value ?? 0) + (_baseValue ?? 0);
    }

    // Section 4.5.1: begins with a letter or digit, and goes on with those and - : . / _
    private static string? NameMistake(ReadOnlySpan<char> name)
    {
        if (name.Length == 0)
            return "has no name, neither its own nor a base name";
        if (!char.IsAsciiLetterOrDigit(name[0]))
            return $"has a name that begins with neither letter nor digit: {PayloadText.Quote(name)}";
        foreach (var c in name)
        {
            if (!char.IsAsciiLetterOrDigit(c) && c is not ('-' or ':' or '.' or '/' or '_'))
                return $"has a name with other than A-Z a-z 0-9 - : . / _ in it: {PayloadText.Quote(name)}";
        }

        return null;
    }

    /// <returns>What spoils the whole pack; null where nothing does.</returns>
    private string? ReadFields(ref Utf8JsonReader reader, ref Fields record)
    {
        while (reader.Read() && reader.TokenType == JsonTokenType.PropertyName)
        {
            var label = LabelOf(ref reader);
            if (label == Label.MustUnderstand)
                return $"has a label that must be understood and is not: {PayloadText.Quote(reader.ValueSpan)}";
            reader.Read();
            var mistake = label switch
            {
                Label.BaseName => ReadText(ref reader, "bn", _baseName, ref record.BaseNameLength),
                Label.BaseUnit => ReadText(ref reader, "bu", _baseUnit, ref record.BaseUnitLength),
                Label.Name => ReadText(ref reader, "n", _ownName, ref record.NameLength),
                Label.Unit => ReadText(ref reader, "u", _ownUnit, ref record.UnitLength),
                Label.BaseTime => ReadTime(ref reader, "bt", ref record.BaseTime),
                Label.Time => ReadTime(ref reader, "t", ref record.Time),
                Label.UpdateTime => ReadTime(ref reader, "ut", ref record.UpdateTime),
                Label.BaseValue => ReadNumber(ref reader, "bv", ref record.BaseValue),
                Label.BaseSum => ReadNumber(ref reader, "bs", ref record.BaseSum),
                Label.Sum => ReadNumber(ref reader, "s", ref record.Sum),
                Label.Version => ReadVersion(ref reader, ref record.Version),
                Label.Value => ReadValue(ref reader, ref record),
                Label.Boolean => ReadBoolean(ref reader, ref record),
                Label.Text => NoMeasurement(ref reader, "vs", "holds text, which is no measurement", ref record),
                Label.Data => NoMeasurement(ref reader, "vd", "holds data, which is no measurement", ref record),
                _ => null,
            };
            if (mistake is not null)
                return mistake;
            reader.Skip();
        }

        if (record.Values == 0 && record.HasSum)
            record.Refuse(Rejection.ValueMissing, "holds a sum without a value");
        return null;
    }

    private static Label LabelOf(ref Utf8JsonReader reader)
    {
        foreach (var (text, label) in Labels)
        {
            if (reader.ValueTextEquals(text))
                return label;
        }

        return reader.ValueSpan.EndsWith("_"u8) ? Label.MustUnderstand : Label.Unknown;
    }

    private static string? ReadText(ref Utf8JsonReader reader, string label, char[] buffer, ref int? length)
    {
        if (reader.TokenType != JsonTokenType.String)
            return $"has no text as {label}";
        if (reader.ValueSpan.Length > buffer.Length)
            return $"has a {label} longer than {buffer.Length} bytes";
        length = reader.CopyString(buffer);
        return null;
    }

    private static string? ReadTime(ref Utf8JsonReader reader, string label, ref decimal? time)
    {
        if (reader.TokenType != JsonTokenType.Number || !NumberText.TryParseExact(reader.ValueSpan, out var number))
            return $"has no number as {label}";
        time = number;
        return null;
    }

    private static string? ReadNumber(ref Utf8JsonReader reader, string label, ref double? value)
    {
        if (reader.TokenType != JsonTokenType.Number || NumberText.TryParse(reader.ValueSpan, out var number) != Rejection.None)
            return $"has no finite number as {label}";
        value = number;
        return null;
    }

    private static string? ReadVersion(ref Utf8JsonReader reader, ref int? version)
    {
        if (reader.TokenType != JsonTokenType.Number || !NumberText.TryParseExact(reader.ValueSpan, out var number)
            || number < 1 || number > int.MaxValue || number != decimal.Truncate(number))
            return "has no positive whole number as bver";
        version = (int)number;
        return null;
    }

    private static string? ReadValue(ref Utf8JsonReader reader, ref Fields record)
    {
        record.Values++;
        if (reader.TokenType == JsonTokenType.Number)
        {
            var rejection = NumberText.TryParse(reader.ValueSpan, out var value);
            if (rejection == Rejection.None)
                record.Value = value;
            else
                record.Refuse(rejection, "has a value that is no finite number");
        }
        else if (reader.TokenType == JsonTokenType.Null)
        {
            record.Refuse(Rejection.ValueMissing, "has null as value");
        }
        else
        {
            record.Refuse(Rejection.NotANumber, "has a value that is no number");
        }

        return null;
    }

    private static string? ReadBoolean(ref Utf8JsonReader reader, ref Fields record)
    {
        record.Values++;
        if (reader.TokenType is JsonTokenType.True or JsonTokenType.False)
            record.Boolean = reader.TokenType == JsonTokenType.True;
        else
            record.Refuse(Rejection.NotANumber, "has neither true nor false as vb");
        return null;
    }

    private static string? NoMeasurement(ref Utf8JsonReader reader, string label, string why, ref Fields record)
    {
        if (reader.TokenType != JsonTokenType.String)
            return $"has no text as {label}";
        record.Values++;
        record.Refuse(Rejection.NotANumber, why);
        return null;
    }

    private enum Label
    {
        Unknown,
        MustUnderstand,
        BaseName,
        BaseTime,
        BaseUnit,
        BaseValue,
        BaseSum,
        Version,
        Name,
        Unit,
        Value,
        Text,
        Boolean,
        Data,
        Sum,
        Time,
        UpdateTime,
    }

    // Section 4.3, table 1.
    private static readonly (byte[] Text, Label Label)[] Labels =
    [
        ("n"u8.ToArray(), Label.Name), ("v"u8.ToArray(), Label.Value), ("u"u8.ToArray(), Label.Unit), ("t"u8.ToArray(), Label.Time),
        ("bn"u8.ToArray(), Label.BaseName), ("bt"u8.ToArray(), Label.BaseTime), ("bu"u8.ToArray(), Label.BaseUnit),
        ("bv"u8.ToArray(), Label.BaseValue), ("bs"u8.ToArray(), Label.BaseSum), ("bver"u8.ToArray(), Label.Version),
        ("vs"u8.ToArray(), Label.Text), ("vb"u8.ToArray(), Label.Boolean), ("vd"u8.ToArray(), Label.Data), ("s"u8.ToArray(), Label.Sum),
        ("ut"u8.ToArray(), Label.UpdateTime),
    ];

    /// <summary>A record as read, before base fields are applied; its texts stand in the buffers of the decoder.</summary>
    private struct Fields
    {
        public int? BaseNameLength, BaseUnitLength, NameLength, UnitLength, Version;
        public decimal? BaseTime, Time, UpdateTime;
        public double? BaseValue, BaseSum, Value, Sum;
        public bool? Boolean;
        public int Values;
        public Rejection Rejection;
        public string? Why;
        public bool Skewed;

        public readonly bool HasSum => Sum is not null;

        public readonly bool HasBaseField =>
            BaseNameLength is not null || BaseUnitLength is not null || BaseTime is not null || BaseValue is not null
            || BaseSum is not null || Version is not null;

        public void Refuse(Rejection rejection, string why)
        {
            Rejection = rejection;
            Why = why;
        }
    }
}
