using System.Globalization;
using LaserWatch.Alarms;
using LaserWatch.History;
using LaserWatch.Telemetry;

namespace LaserWatch.Cases;

/// <summary>Takes people out of what goes into a case: who acknowledged becomes "operator 1", "operator 2" …; what somebody wrote in free words is left out.</summary>
/// <remarks>
/// Left out: notes and serial numbers of the service log, its details but for numbers and a test cut's outcome, and the words of an alarm change that a person made (a reason
/// for shelving). One person is one operator throughout. Names of jobs, materials, parts and actions stay: nobody can tell a name from a word there.
/// </remarks>
internal sealed class Disguise
{
    private static readonly HashSet<string> PeopleIn = new(["by", "operator", "person", "name", "who", "technician"], StringComparer.OrdinalIgnoreCase);

    /// <summary>Without these an annotation would no longer mark its span.</summary>
    private static readonly HashSet<string> SpanOf = ["from", "to", "id", "cause", "made"];

    private readonly Dictionary<string, string> _operators = new(StringComparer.OrdinalIgnoreCase);

    public ServiceEvent Of(ServiceEvent service)
    {
        var details = new Dictionary<string, string>(StringComparer.Ordinal);
        foreach (var (key, value) in service.Details)
        {
            if (PeopleIn.Contains(key))
                details[key] = Operator(value);
            else if (key == "outcome" || (Annotation.IsOne(service) && SpanOf.Contains(key)) || double.TryParse(value, NumberStyles.Float, CultureInfo.InvariantCulture, out _))
                details[key] = value;
        }

        return service with { Serial = null, Note = null, Details = details.Count == 0 ? ServiceEvent.NoDetails : details };
    }

    public AlarmChange Of(AlarmChange alarm) => alarm.By is { } by ? alarm with { By = Operator(by), Message = "" } : alarm;

    private string Operator(string person)
    {
        var known = person.Trim();
        if (!_operators.TryGetValue(known, out var name))
            _operators[known] = name = string.Create(CultureInfo.InvariantCulture, $"operator {_operators.Count + 1}");
        return name;
    }
}
