using System.Diagnostics;
using System.Globalization;
using System.Text;
using Xunit.Abstractions;
using Xunit.Sdk;

namespace LaserWatch.Fuzz;

/// <summary>Gives a reader of outside bytes bad input, much of it, and holds it to its law.</summary>
/// <remarks>
/// In the ordinary run a fixed number of cases from a fixed seed. By hand: <c>LASERWATCH_FUZZ_MINUTES=10</c> goes on for so long at every reader, from a
/// seed that it prints; <c>LASERWATCH_FUZZ_SEED</c> takes that seed again. What breaks the law is made as small as it can be, and printed.
/// </remarks>
/// <param name="law">Throws where the law is broken: what a documented exception is, it catches itself.</param>
internal sealed class Fuzzing(ITestOutputHelper output, IReadOnlyList<byte[]> seeds, IEnumerable<string> words, Action<byte[]> law)
{
    /// <summary>No parser needs so long for a mebibyte; one that does hangs.</summary>
    private static readonly TimeSpan LongestCase = TimeSpan.FromSeconds(30);

    private const int MostSteps = 3000;

    private readonly Mutator _mutator = new(seeds, words);
    private byte[] _current = [];
    private long _begun;

    /// <summary>Memory that one case may take in all.</summary>
    public long MostMemory { get; init; } = 64L << 20;

    /// <summary>What is done to a mutated input before it is read, such as to put its checksum right.</summary>
    public Func<byte[], byte[]> Finish { get; init; } = bytes => bytes;

    /// <param name="cases">In an ordinary run.</param>
    public void Run(int cases)
    {
        cases = Rounds.Of(cases);
        foreach (var seed in seeds)
            Assert.Null(FaultOf(seed)); // or what is changed is no good input

        var minutes = Number("LASERWATCH_FUZZ_MINUTES");
        var start = (int)(Number("LASERWATCH_FUZZ_SEED") ?? (minutes is null ? 1 : Environment.TickCount));
        var clock = Stopwatch.StartNew();
        string? broken = null;
        var done = 0;
        var worker = new Thread(() =>
        {
            for (; broken is null && (minutes is { } most ? clock.Elapsed.TotalMinutes < most : done < cases); done++)
                broken = Try(start, done);
        })
        { IsBackground = true };
        Volatile.Write(ref _begun, Stopwatch.GetTimestamp());
        worker.Start();
        while (!worker.Join(TimeSpan.FromSeconds(1)))
        {
            if (Stopwatch.GetElapsedTime(Volatile.Read(ref _begun)) > LongestCase)
                throw new XunitException($"seed {start}, case {done}: hangs on {Show(_current)}");
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"seed {start}: {done} cases in {clock.Elapsed.TotalSeconds:0} s"));
        if (broken is not null)
            throw new XunitException(broken);
    }

    private string? Try(int seed, int number)
    {
        var input = _mutator.Make(seed, number);
        if (FaultOf(input) is not { } fault)
            return null;
        var least = Shrink(input, Kind(fault));
        return $"seed {seed}, case {number}: {FaultOf(least)}\nThe least input that does it, {least.Length} bytes: {Show(least)}";
    }

    private string? FaultOf(byte[] input)
    {
        _current = input;
        Volatile.Write(ref _begun, Stopwatch.GetTimestamp());
        var before = GC.GetAllocatedBytesForCurrentThread();
        try
        {
            law(Finish(input));
        }
        catch (Exception fault) // that is what is looked for, whatever it is
        {
            return fault.ToString();
        }

        var took = GC.GetAllocatedBytesForCurrentThread() - before;
        return took <= MostMemory ? null : $"Memory: {took >> 20} MiB for {input.Length} bytes";
    }

    /// <summary>The same fault by less: parts taken out, ever smaller ones.</summary>
    private byte[] Shrink(byte[] input, string kind)
    {
        var steps = 0;
        for (var part = Math.Max(1, input.Length / 2); part > 0; part /= 2)
        {
            for (var at = 0; at + part <= input.Length && steps < MostSteps;)
            {
                steps++;
                byte[] less = [.. input.AsSpan(0, at), .. input.AsSpan(at + part)];
                if (FaultOf(less) is { } fault && Kind(fault) == kind)
                    input = less;
                else
                    at += part;
            }
        }

        return input;
    }

    private static string Kind(string fault) => fault.Split([':', '\n', '('], 2)[0];

    private static string Show(byte[] bytes)
    {
        var start = bytes.AsSpan(0, Math.Min(bytes.Length, 600)).ToArray();
        var text = string.Concat(Encoding.Latin1.GetString(start).Select(c => c is >= ' ' and < '\u007f' ? c.ToString() : $"\\x{(int)c:x2}"));
        return bytes.Length > start.Length ? $"{text} … in base64: {Convert.ToBase64String(bytes.AsSpan(0, Math.Min(bytes.Length, 6000)))}" : text;
    }

    private static double? Number(string variable) =>
        double.TryParse(Environment.GetEnvironmentVariable(variable), NumberStyles.Float, CultureInfo.InvariantCulture, out var number) ? number : null;

    /// <summary>What is said about bad input is one line that a console can be given.</summary>
    public static void AssertSayable(string? words)
    {
        Assert.NotNull(words);
        Assert.NotEmpty(words);
        Assert.DoesNotContain(words, char.IsControl);
        Assert.True(words.Length <= 4000, $"{words.Length} characters");
    }
}
