namespace LaserWatch.Diagnosis;

/// <summary>In which order to look, so that the cause is found soonest for the least effort.</summary>
/// <remarks>
/// Every cause is found by one check. For checks alone the order of falling p·s/c (chance that the cause is one of its, times the chance that
/// it then finds it, over its minutes) has the least expected minutes: exchanging two neighbours changes the sum by c₂p₁s₁ − c₁p₂s₂
/// (Smith, Naval Research Logistics Quarterly 3, 1956, for jobs on one machine; with overlooking and second looks, Black, Information and Control 8,
/// 1965; both from memory). Best decision trees with questions among the checks are NP-hard (Hyafil and Rivest 1976, from memory), so a question, which
/// finds nothing itself but parts the causes, is put where thinking one question further shows the greatest gain: for every place near the front of the
/// order and every question, the expected minutes are worked out with the best order for each answer after it. That is never worse than the
/// order without questions. Information per minute is not the rule: it counts bits between causes that one and the same check finds anyway.
/// </remarks>
public sealed class CheckPlan
{
    private const int MostQuestions = 2;
    private const int MostChecksBeforeQuestion = 8;

    private CheckPlan(IReadOnlyList<PlannedCheck> checks, PlannedQuestion? question, double expectedMinutes)
    {
        Checks = checks;
        Question = question;
        ExpectedMinutes = expectedMinutes;
    }

    /// <summary>What to do, in this order, while nothing is found.</summary>
    public IReadOnlyList<PlannedCheck> Checks { get; }

    /// <summary>What to ask after <see cref="Checks"/>, with a plan for every answer; null where the checks end the plan.</summary>
    public PlannedQuestion? Question { get; }

    /// <summary>Mean minutes until the cause is found, or until everything was looked at twice in vain; where the cause is one of the table's.</summary>
    public double ExpectedMinutes { get; }

    /// <summary>All checks, in order, with the likeliest answer to each question.</summary>
    public IEnumerable<PlannedCheck> All() =>
        Question is null ? Checks : Checks.Concat(Question.Branches.MaxBy(b => b.Chance)!.Then.All());

    /// <param name="weights">Of the model's causes in order, in any scale.</param>
    /// <param name="open">Signs that may still be asked.</param>
    internal static CheckPlan For(CauseModel model, double[] weights, IReadOnlyList<Sign> open, CheckedSoFar looked)
    {
        var table = new PlanTable(model, open);
        return Best(table, weights, table.Looks(looked), [.. Enumerable.Range(0, open.Count)], MostQuestions);
    }

    private static CheckPlan Best(PlanTable table, double[] weights, int[] looks, int[] open, int questions)
    {
        var order = table.Order(weights, looks, out var least);
        var best = questions > 0 ? BestQuestion(table, weights, looks, order, open, questions, least) : null;
        var (left, did, spent) = ((double[])weights.Clone(), (int[])looks.Clone(), 0.0);
        var checks = new List<PlannedCheck>();
        foreach (var check in order.Take(best?.Place ?? order.Length))
        {
            checks.Add(table.Plan(check, left, did));
            spent += Look(table, left, did, check);
        }

        var total = weights.Sum();
        if (best is not { } ask)
            return new CheckPlan(checks, null, spent / total);
        var question = Ask(table, left, did, ask.Question, open, questions);
        var after = left.Sum() * (table.QuestionMinutes(ask.Question) + question.Branches.Sum(b => b.Chance * b.Then.ExpectedMinutes));
        return new CheckPlan(checks, question, (spent + after) / total);
    }

    /// <summary>The question that saves most, and after how many checks; null where none saves anything.</summary>
    private static (int Place, int Question)? BestQuestion(
        PlanTable table, double[] weights, int[] looks, int[] order, int[] open, int questions, double least)
    {
        (int, int)? best = null;
        var (left, did, spent) = ((double[])weights.Clone(), (int[])looks.Clone(), 0.0);
        for (var place = 0; place <= Math.Min(order.Length, MostChecksBeforeQuestion); place++)
        {
            foreach (var question in open)
            {
                var cost = spent + AfterQuestion(table, left, did, question, open, questions);
                if (cost < least - 1e-9)
                    (least, best) = (cost, (place, question));
            }

            if (place < order.Length)
                spent += Look(table, left, did, order[place]);
        }

        return best;
    }

    /// <summary>Looks in vain: what that takes, times the weight it is done with.</summary>
    private static double Look(PlanTable table, double[] left, int[] did, int check)
    {
        var spent = left.Sum() * table.Minutes(check);
        table.Overlook(left, check);
        did[check]++;
        return spent;
    }

    /// <summary>Minutes, times the weight left, from the question on. Looks one question further, asked at once or not at all.</summary>
    private static double AfterQuestion(PlanTable table, double[] left, int[] looks, int question, int[] open, int questions)
    {
        var cost = left.Sum() * table.QuestionMinutes(question);
        for (var answer = 0; answer < table.Answers(question); answer++)
        {
            var after = table.Answered(left, question, answer);
            cost += questions > 1 ? LeastWithOneMore(table, after, looks, open, question) : table.Cost(after, looks);
        }

        return cost;
    }

    private static double LeastWithOneMore(PlanTable table, double[] weights, int[] looks, int[] open, int asked)
    {
        var least = table.Cost(weights, looks);
        foreach (var next in open)
        {
            if (next != asked)
                least = Math.Min(least, AfterQuestion(table, weights, looks, next, open, 1));
        }

        return least;
    }

    private static PlannedQuestion Ask(PlanTable table, double[] left, int[] looks, int question, int[] open, int questions)
    {
        var total = left.Sum();
        int[] rest = [.. open.Where(o => o != question)];
        var branches = new List<PlannedBranch>();
        for (var answer = 0; answer < table.Answers(question); answer++)
        {
            var after = table.Answered(left, question, answer);
            branches.Add(new PlannedBranch(table.Answer(question, answer), after.Sum() / total, Best(table, after, looks, rest, questions - 1)));
        }

        return new PlannedQuestion(table.Question(question), branches);
    }
}

/// <param name="Chance">Chance that it finds the cause, when everything before it found nothing.</param>
/// <param name="Finds">The causes it can find, likeliest first.</param>
/// <param name="Again">It was done before and found nothing; it can have been overlooked.</param>
public sealed record PlannedCheck(CauseCheck Check, double Chance, IReadOnlyList<string> Finds, bool Again);

public sealed record PlannedQuestion(Sign Sign, IReadOnlyList<PlannedBranch> Branches);

/// <param name="Answer">Null: none of the answers.</param>
/// <param name="Chance">Chance of the answer.</param>
public sealed record PlannedBranch(SignAnswer? Answer, double Chance, CheckPlan Then);
