namespace LaserWatch.Diagnosis;

/// <summary>Walks a plan with a known true cause: mean minutes until it is found, or until the plan is at its end.</summary>
internal static class PlanWalk
{
    /// <summary>Chances of the answers (and of none of them, last) with the true cause.</summary>
    public delegate double Answers(Sign sign, int answer, string cause);

    public static double ByTheModel(Sign sign, int answer, string cause) => Chance(sign, answer, cause);

    /// <summary>Answers from a person who saw these and nothing else.</summary>
    public static Answers Saw(params string[] seen) => (sign, answer, _) =>
    {
        var known = sign.Answers.Any(a => seen.Contains(a.Id));
        return answer < sign.Answers.Count ? (seen.Contains(sign.Answers[answer].Id) ? 1 : 0) : known ? 0 : 1;
    };

    public static double Minutes(CheckPlan plan, string cause, Answers answers) => From(plan, cause, answers, 1);

    /// <summary>Minutes of a fixed order of checks, gone through twice.</summary>
    public static double Minutes(IEnumerable<CauseCheck> order, CauseModel model, string cause)
    {
        var (left, minutes) = (1.0, 0.0);
        var fixedOrder = order.ToList();
        foreach (var check in fixedOrder.Concat(fixedOrder))
        {
            minutes += left * check.Minutes;
            if (model.FindCause(cause)!.Check == check.Id)
                left *= 1 - check.Sensitivity;
        }

        return minutes;
    }

    public static double Chance(Sign sign, int answer, string cause) =>
        sign.Probability(answer, cause) / Enumerable.Range(0, sign.Answers.Count + 1).Sum(a => sign.Probability(a, cause));

    private static double From(CheckPlan plan, string cause, Answers answers, double left)
    {
        var minutes = 0.0;
        foreach (var check in plan.Checks)
        {
            minutes += left * check.Check.Minutes;
            if (check.Finds.Contains(cause))
                left *= 1 - check.Check.Sensitivity;
        }

        if (plan.Question is not { } question)
            return minutes;
        minutes += left * question.Sign.Minutes!.Value;
        for (var i = 0; i < question.Branches.Count; i++)
        {
            var chance = answers(question.Sign, i, cause);
            if (chance > 0)
                minutes += From(question.Branches[i].Then, cause, answers, left * chance);
        }

        return minutes;
    }
}
