using System.ComponentModel.DataAnnotations;
using System.Globalization;

namespace LaserWatch.Configuration;

/// <summary>The first and the last day that a date may be, both as in 2026-03-09. The library's own range finds its type by reflection.</summary>
[AttributeUsage(AttributeTargets.Property)]
internal sealed class DayRangeAttribute(string first, string last) : ValidationAttribute
{
    public string First => first;

    public string Last => last;

    public override bool IsValid(object? value) => value is null || (value is DateOnly day && day >= Day(first) && day <= Day(last));

    private static DateOnly Day(string text) => DateOnly.ParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture);
}
