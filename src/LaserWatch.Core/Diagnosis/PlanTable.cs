namespace LaserWatch.Diagnosis;

/// <summary>The numbers of a model laid out for planning: causes by index, checks and questions with their minutes and chances.</summary>
internal sealed class PlanTable
{
    /// <summary>How often one check is planned: what was overlooked is found cheaper by looking again than by testing the supply.</summary>
    public const int MostLooks = 2;

    private readonly CauseModel _model;
    private readonly IReadOnlyList<Sign> _open;
    private readonly int[] _checkOf;
    private readonly double[] _sensitivity;
    private readonly double[] _minutes;
    private readonly double[][][] _answers;

    public PlanTable(CauseModel model, IReadOnlyList<Sign> open)
    {
        (_model, _open) = (model, open);
        var place = model.Checks.Select((check, i) => (check.Id, i)).ToDictionary(p => p.Id, p => p.i, StringComparer.Ordinal);
        _checkOf = [.. model.Causes.Select(c => place[c.Check])];
        _sensitivity = [.. model.Checks.Select(c => c.Sensitivity)];
        _minutes = [.. model.Checks.Select(c => c.Minutes)];
        _answers = [.. open.Select(sign => Enumerable.Range(0, sign.Answers.Count + 1).Select(answer => Scaled(sign, answer)).ToArray())];
    }

    /// <summary>How often each check was done before the plan: once where it, or all that it finds, was ruled out.</summary>
    public int[] Looks(CheckedSoFar looked) => [.. _model.Checks.Select(check =>
        looked.RuledOut.Contains(check.Id) || _model.Causes.Where(c => c.Check == check.Id).All(c => looked.RuledOut.Contains(c.Id)) ? 1 : 0)];

    public double Minutes(int check) => _minutes[check];

    public double QuestionMinutes(int question) => _open[question].Minutes!.Value;

    public Sign Question(int question) => _open[question];

    public int Answers(int question) => _answers[question].Length;

    public SignAnswer? Answer(int question, int answer) => answer < _open[question].Answers.Count ? _open[question].Answers[answer] : null;

    /// <summary>The weights that go with an answer; over all answers they sum to what was there before.</summary>
    public double[] Answered(double[] weights, int question, int answer)
    {
        var chances = _answers[question][answer];
        var after = new double[weights.Length];
        for (var i = 0; i < after.Length; i++)
            after[i] = weights[i] * chances[i];
        return after;
    }

    /// <summary>Takes away what a look in vain would have found.</summary>
    public void Overlook(double[] weights, int check)
    {
        for (var i = 0; i < _checkOf.Length; i++)
        {
            if (_checkOf[i] == check)
                weights[i] *= 1 - _sensitivity[check];
        }
    }

    /// <summary>The looks not done yet by falling chance a minute, and the expected minutes of that order times the sum of the weights.</summary>
    public int[] Order(double[] weights, int[] looks, out double cost)
    {
        var present = new double[_minutes.Length];
        var left = 0.0;
        for (var i = 0; i < _checkOf.Length; i++)
        {
            present[_checkOf[i]] += weights[i];
            left += weights[i];
        }

        var count = looks.Sum(l => MostLooks - l);
        var order = new int[count];
        var keys = new double[count];
        for (var (check, k) = (0, 0); check < looks.Length; check++)
        {
            // A second look finds less than the first, so it never comes before it.
            var there = present[check];
            for (var look = looks[check]; look < MostLooks; look++)
            {
                var found = there * _sensitivity[check];
                (order[k], keys[k++]) = (check, -found / _minutes[check]);
                there -= found;
            }
        }

        Array.Sort(keys, order);
        cost = 0;
        for (var k = 0; k < count; k++)
        {
            cost += left * _minutes[order[k]];
            left += keys[k] * _minutes[order[k]];
        }

        return order;
    }

    public double Cost(double[] weights, int[] looks)
    {
        Order(weights, looks, out var cost);
        return cost;
    }

    public PlannedCheck Plan(int check, double[] weights, int[] looks)
    {
        var finds = Enumerable.Range(0, _checkOf.Length).Where(i => _checkOf[i] == check).OrderByDescending(i => weights[i]).ToList();
        var made = _model.Checks[check];
        return new PlannedCheck(
            made, finds.Sum(i => weights[i]) * _sensitivity[check] / weights.Sum(), [.. finds.Select(i => _model.Causes[i].Id)], looks[check] > 0);
    }

    // The least probability of "none of them" can make a sign's chances sum to a little more than 1.
    private double[] Scaled(Sign sign, int answer) => [.. _model.Causes.Select(cause =>
        sign.Probability(answer, cause.Id) / Enumerable.Range(0, sign.Answers.Count + 1).Sum(a => sign.Probability(a, cause.Id)))];
}
