using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using LaserWatch.Calibration;
using LaserWatch.Configuration;

namespace LaserWatch.Reports;

/// <summary>What the configuration says of a machine's sensors, in words that a person can check and a program can compare.</summary>
public static class SensorWords
{
    public static IReadOnlyList<SensorCalibration> Of(MachineOptions machine) => [.. machine.Sensors.Select(Of)];

    /// <summary>Sixteen hexadecimal digits that differ wherever the words differ: the beginning of a SHA-256.</summary>
    public static string Hash(IEnumerable<SensorCalibration> sensors)
    {
        var words = new StringBuilder();
        foreach (var sensor in sensors)
            words.Append(sensor.Channels).Append('\n').Append(sensor.Source).Append('\n').Append(sensor.Chain).Append("\n\n");
        return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(words.ToString())))[..16];
    }

    private static SensorCalibration Of(SensorOptions sensor)
    {
        var channels = sensor.Channel is { } channel ? channel
            : string.Join(", ", sensor.SenmlNames.OrderBy(name => name.Key, StringComparer.Ordinal).Select(name => $"{name.Value} (SenML {name.Key})"));
        List<string> source = [sensor.Topic is { } topic ? $"topic {topic}" : "LaserWatch’s own topic"];
        if (sensor.Value is { } value)
            source.Add($"value at {value}");
        if (sensor.Time is { } time)
            source.Add($"time at {time}");
        List<string> chain = [.. sensor.Calibration.Select(Words)];
        if (sensor.Unit is { } unit)
            chain.Add($"unit {unit}");
        return new(channels, string.Join(", ", source), chain.Count == 0 ? "as sent" : string.Join("; ", chain));
    }

    /// <summary>The kind of the step, and every number of it under the name that the configuration has for it.</summary>
    private static string Words(CalibrationStep step)
    {
        var fields = JsonSerializer.SerializeToElement(step, ConfigurationJson.Options.GetTypeInfo(typeof(CalibrationStep)));
        var numbers = fields.EnumerateObject().Where(field => field.Name != "kind").Select(field => $"{field.Name} {Text(field.Value)}");
        return $"{fields.GetProperty("kind").GetString()}: {string.Join(", ", numbers)}";
    }

    private static string Text(JsonElement value) => value.ValueKind switch
    {
        JsonValueKind.Array => "[" + string.Join("; ", value.EnumerateArray().Select(Text)) + "]",
        JsonValueKind.Object => string.Join(" → ", value.EnumerateObject().Select(field => Text(field.Value))),
        JsonValueKind.String => value.GetString()!,
        _ => value.GetRawText(),
    };
}
