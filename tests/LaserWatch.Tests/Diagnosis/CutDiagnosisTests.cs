using CsCheck;

namespace LaserWatch.Diagnosis;

public class CutDiagnosisTests
{
    private static readonly CauseModel Model = CauseModels.BuiltIn;

    private static readonly Gen<Observation> SomeObservation =
        from sign in Gen.Int[0, Model.Signs.Count - 1].Select(i => Model.Signs[i])
        from agreement in Gen.Double[0, 1].Array[sign.Answers.Count + 1]
        select new Observation(sign.Id, agreement, "said");

    private static readonly Gen<Observation[]> Observations = SomeObservation.Array[0, 8].Select(all => all.DistinctBy(o => o.SignId).ToArray());

    private static readonly string[] Lookable = [.. Model.Causes.Select(c => c.Id).Concat(Model.Checks.Select(c => c.Id))];

    private static readonly Gen<string> SomethingLookedAt = Gen.Int[0, Lookable.Length - 1].Select(i => Lookable[i]);

    [Fact]
    public void Weights_sum_to_one_and_none_is_nothing() =>
        Observations.Select(SomethingLookedAt.Array[0, 5]).Sample((observations, ruledOut) =>
        {
            var diagnosis = CauseModels.Diagnose(Model, new CheckedSoFar([], ruledOut), observations);
            Assert.Equal(1, diagnosis.Causes.Sum(c => c.Weight), 1e-12);
            Assert.All(diagnosis.Causes, c => Assert.InRange(c.Weight, double.Epsilon, 1));
            Assert.Equal(Model.Causes.Count + 1, diagnosis.Causes.Count);
            Assert.InRange(diagnosis.EntropyBits, 0, Math.Log2(Model.Causes.Count + 1) + 1e-12);
        }, iter: 200);

    [Fact]
    public void What_is_ruled_out_never_rises_and_nothing_else_falls() =>
        Observations.Select(SomethingLookedAt).Sample((observations, looked) =>
        {
            var before = CauseModels.Diagnose(Model, null, observations).Causes.ToDictionary(c => c.Id, c => c.Weight);
            var after = CauseModels.Diagnose(Model, new CheckedSoFar([], [looked]), observations).Causes;
            foreach (var cause in after)
            {
                var concerned = cause.Id == looked || cause.Cause?.Check == looked;
                Assert.True(concerned ? cause.Weight <= before[cause.Id] + 1e-12 : cause.Weight >= before[cause.Id] - 1e-12, cause.Id);
            }
        }, iter: 200);

    [Fact]
    public void A_cause_that_was_found_leads()
    {
        foreach (var cause in Model.Causes)
        {
            var first = CauseModels.Diagnose(Model, new CheckedSoFar([cause.Id], [])).Causes[0];
            Assert.Equal(cause.Id, first.Id);
        }
    }

    [Fact]
    public void The_order_in_which_things_are_told_does_not_matter() =>
        Observations.Select(SomethingLookedAt.Array[2]).Sample((observations, ruledOut) =>
        {
            var one = CauseModels.Diagnose(Model, new CheckedSoFar([], ruledOut), observations).Causes;
            var other = CauseModels.Diagnose(Model, new CheckedSoFar([], [.. ruledOut.Reverse()]), [.. observations.Reverse()]).Causes;
            Assert.All(one, c => Assert.Equal(c.Weight, other.Single(o => o.Id == c.Id).Weight, 1e-12));
        }, iter: 100);

    [Fact]
    public void An_observation_that_agrees_with_every_answer_alike_changes_hardly_anything()
    {
        var before = CauseModels.Diagnose(Model).Causes.ToDictionary(c => c.Id, c => c.Weight);
        var after = CauseModels.Diagnose(Model, null, new Observation("air-pressure", [1, 1, 1], "nobody knows")).Causes;
        Assert.All(after, c => Assert.Equal(before[c.Id], c.Weight, 1e-12));
    }

    [Fact]
    public void An_opinion_shares_out_the_weight_of_its_causes_among_them_and_leaves_their_sum()
    {
        string[] group = ["tube-aged", "supply-failing", "command-path"];
        var before = CauseModels.Diagnose(Model).Causes;
        var after = CutDiagnosis.Of(
            Model, [], [], [new Opinion("the current's course", new Dictionary<string, double> { ["tube-aged"] = 0.1, ["supply-failing"] = 0.8, ["command-path"] = 0.1 })],
            CheckedSoFar.Nothing).Causes;

        Assert.Equal(Sum(before), Sum(after), 1e-12);
        Assert.True(Weight(after, "supply-failing") > 1.8 * Weight(before, "supply-failing"));
        Assert.True(Weight(after, "tube-aged") < 0.6 * Weight(before, "tube-aged"));
        Assert.Equal(Weight(before, "lens-dirty"), Weight(after, "lens-dirty"), 1e-12);

        double Sum(IReadOnlyList<RankedCause> causes) => causes.Where(c => group.Contains(c.Id)).Sum(c => c.Weight);
        static double Weight(IReadOnlyList<RankedCause> causes, string id) => causes.Single(c => c.Id == id).Weight;
    }

    [Fact]
    public void A_word_that_is_neither_cause_nor_check_is_refused() =>
        Assert.Throws<ArgumentException>(() => CauseModels.Diagnose(Model, new CheckedSoFar([], ["lense"])));

    [Theory]
    [InlineData(0, 0.1)]
    [InlineData(16, 1)]
    [InlineData(160, 1.582)] // 1 / (1 − e⁻¹)
    public void Dirt_grows_with_beam_hours_since_the_lens_was_cleaned(double hours, double factor) =>
        Assert.Equal(factor, new Wear(["lens"], 16, 1.6).Factor(hours), 0.001);

    [Fact]
    public void A_lens_cleaned_an_hour_ago_is_seldom_dirty_and_one_of_fifty_hours_oftener()
    {
        Assert.True(Weight("lens-dirty", new ServedPart("lens", "cleaned", 1, 0.5)) < 0.3 * Weight("lens-dirty"));
        Assert.True(Weight("lens-dirty", new ServedPart("Lens", "cleaned", 50, 20)) > 1.2 * Weight("lens-dirty"));
        // No beam was counted: four hours a working day.
        Assert.True(Weight("lens-dirty", new ServedPart("lens", "cleaned", null, 20)) > 1.2 * Weight("lens-dirty"));
    }

    [Fact]
    public void Mirrors_just_cleaned_are_oftener_out_of_alignment_until_that_is_set()
    {
        var cleaned = new ServedPart("mirrors", "cleaned", 1, 0.5);
        Assert.True(Weight("mirrors-misaligned", cleaned) > 2 * Weight("mirrors-misaligned"));
        Assert.True(Weight("mirrors-misaligned", cleaned, new ServedPart("alignment", "set", 0.8, 0.4)) < 0.4 * Weight("mirrors-misaligned"));
    }

    private static double Weight(string cause, params ServedPart[] served) =>
        CutDiagnosis.Of(Model, [], served, [], CheckedSoFar.Nothing).Causes.Single(c => c.Id == cause).Weight;
}
