using LaserWatch.Statistics;

namespace LaserWatch.Benchmarks;

/// <summary>One line of the table of coloured noise.</summary>
/// <param name="Fleet">Samples over false alarms, all machines together, charts started anew after each.</param>
/// <param name="First">Mean samples to a machine's first false alarm, cut off at 50 times the wanted.</param>
public sealed record ColouredRow(string Detector, double Phi, double White, int Learned, double Wanted, double Fleet, double First, Estimate Delay)
{
    public double Ratio => Fleet / Wanted;
}

/// <summary>Run lengths in control on AR(1) noise, each machine with a learning stretch of its own.</summary>
public static class ColouredTable
{
    private const double Wanted = 1000;
    private const double Shift = 1;
    private const int Seed = 20_261_126;

    private static readonly double[] Phis = [0, 0.25, 0.5, 0.75, 0.9];

    public static IReadOnlyList<ColouredRow> Rows(Effort effort)
    {
        var cases = new List<(string Detector, double Phi, double White, int Learned, Func<Noise, (Func<double, CusumSide> Update, Action Reset)> Make)>();
        foreach (var phi in Phis)
            cases.Add(("no correction", phi, 0, 0, _ => Plain()));
        foreach (var phi in Phis)
            cases.Add(("errors, noise known", phi, 0, 0, _ => Errors(new Ar1Noise(0, Math.Sqrt(1 - phi * phi), phi))));
        foreach (var learned in (ReadOnlySpan<int>)[500, 1000, 2000])
            foreach (var phi in Phis)
                cases.Add(("errors, noise learned", phi, 0, learned, noise => Errors(Learn(noise, learned))));
        foreach (var phi in (ReadOnlySpan<double>)[0.75, 0.9])
            cases.Add(("errors, noise learned", phi, 0.5, 2000, noise => Errors(Learn(noise, 2000))));
        foreach (var phi in Phis)
            cases.Add(("batch means, noise known", phi, 0, 0, _ => Batches(phi)));

        return [.. cases.AsParallel().AsOrdered().Select(one => Measure(one.Detector, one.Phi, one.White, one.Learned, one.Make, effort))];
    }

    private static ColouredRow Measure(
        string detector, double phi, double white, int learned, Func<Noise, (Func<double, CusumSide> Update, Action Reset)> make, Effort effort)
    {
        var machines = effort.Of(400);
        var (samples, alarms, first) = (0L, 0, 0.0);
        var delays = new List<double>();
        for (var machine = 0; machine < machines; machine++)
        {
            var noise = new Noise(new Gaussian(Seed + 7919 * machine), phi, white);
            var (update, reset) = make(noise);

            var (n, firstAlarm) = (0, 0);
            for (; n < 10 * Wanted || (firstAlarm == 0 && n < 50 * Wanted); n++)
            {
                if (update(noise.Next()) == CusumSide.None)
                    continue;
                if (firstAlarm == 0)
                    firstAlarm = n + 1;
                if (n < 10 * Wanted)
                    alarms++;
                reset();
            }

            samples += (long)(10 * Wanted);
            first += firstAlarm == 0 ? 50 * Wanted : firstAlarm;

            reset();
            var delay = 1;
            while (update(Shift + noise.Next()) == CusumSide.None && delay < 10_000)
                delay++;
            delays.Add(delay);
        }

        return new ColouredRow(detector, phi, white, learned, Wanted, samples / (double)Math.Max(1, alarms), first / machines, Estimate.Of(delays));
    }

    private static Ar1Noise Learn(Noise noise, int samples)
    {
        var stretch = new double[samples];
        for (var n = 0; n < samples; n++)
            stretch[n] = noise.Next();
        return Ar1Noise.Fit(stretch) ?? throw new InvalidOperationException("Noise always has a spread.");
    }

    private static (Func<double, CusumSide> Update, Action Reset) Plain()
    {
        var chart = new Cusum(CusumDesign.For(Shift, Wanted));
        return (chart.Update, chart.Reset);
    }

    private static (Func<double, CusumSide> Update, Action Reset) Errors(Ar1Noise noise)
    {
        var chart = new Ar1Cusum(noise, Ar1CusumDesign.For(noise, Shift, Wanted));
        return (chart.Update, chart.Reset);
    }

    private static (Func<double, CusumSide> Update, Action Reset) Batches(double phi)
    {
        var size = BatchMeans.SizeFor(phi);
        var sigma = Math.Sqrt(BatchMeans.Variance(phi, size));
        var chart = new Cusum(CusumDesign.For(Shift / sigma, Math.Max(10, Wanted / size)));
        var batches = new BatchMeans(size);
        return (x => batches.Add(x) is { } mean ? chart.Update(mean / sigma) : CusumSide.None, chart.Reset);
    }
}
