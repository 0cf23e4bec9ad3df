using CsCheck;

namespace LaserWatch.Diagnosis;

/// <summary>Small random models, and the built-in one.</summary>
internal static class CauseModels
{
    public static readonly CauseModel BuiltIn = Configuration.CausesFile.ReadBuiltIn();

    private static readonly Gen<double> Chance = Gen.Double[0.05, 0.9];

    /// <summary>Causes c0, c1 … found by checks k0, k1 … and questions q0 … with two answers each.</summary>
    public static Gen<CauseModel> Random(int mostChecks, int questions) =>
        from checks in Gen.Int[2, mostChecks]
        from causes in Gen.Int[checks, checks + 2]
        from weights in Gen.Double[0.1, 10].Array[causes]
        from minutes in Gen.Double[0.5, 20].Array[checks]
        from sensitivities in Gen.Double[0.5, 0.98].Array[checks]
        from questionMinutes in Gen.Double[0.1, 3].Array[questions]
        from chances in Chance.Array[questions * causes]
        from split in Chance.Array[questions * causes]
        select new CauseModel(
            [.. weights.Select((w, i) => new Cause($"c{i}", $"cause {i}", w, $"k{(i < checks ? i : i % checks)}", "mend", null, null, null, []))],
            [.. minutes.Select((m, i) => new CauseCheck($"k{i}", "look", m, sensitivities[i], "mind"))],
            [.. questionMinutes.Select((m, q) => new Sign($"q{q}", "question", m, "ask", null,
            [
                new SignAnswer($"q{q}-yes", "yes", 0.3, Enumerable.Range(0, causes).ToDictionary(i => $"c{i}", i => chances[(q * causes) + i] * split[(q * causes) + i])),
                new SignAnswer($"q{q}-no", "no", 0.3, Enumerable.Range(0, causes).ToDictionary(i => $"c{i}", i => chances[(q * causes) + i] * (1 - split[(q * causes) + i]))),
            ]))],
            1, 4);

    public static CutDiagnosis Diagnose(CauseModel model, CheckedSoFar? looked = null, params Observation[] observations) =>
        CutDiagnosis.Of(model, observations, [], [], looked ?? CheckedSoFar.Nothing);
}
