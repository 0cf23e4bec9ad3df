using Microsoft.Extensions.Logging;

namespace LaserWatch.Health;

/// <summary>Asks an outside address at an interval, only while all of the agent works, so that somebody else notices when it does not.</summary>
public sealed class SignOfLife(AgentCondition condition, HealthOptions options, TimeProvider time, ILogger<SignOfLife> logger)
{
    private bool _held;
    private long _failures;

    public async Task RunAsync(CancellationToken stop)
    {
        if (options.SignOfLife.Url is not { } url)
            return;
        using var handler = new SocketsHttpHandler { AllowAutoRedirect = false, PooledConnectionLifetime = TimeSpan.FromMinutes(5) };
        using var http = new HttpClient(handler) { Timeout = TimeSpan.FromSeconds(options.SignOfLife.TimeoutSeconds) };
        using var timer = new PeriodicTimer(TimeSpan.FromSeconds(options.SignOfLife.EverySeconds), time);
        var target = new Uri(url);
        await StartUpAsync(stop);
        do
        {
            if (AllWorks())
                await AskAsync(http, target, stop);
        }
        while (await timer.WaitForNextTickAsync(stop));
    }

    // To be on its way is no fault: at most as long as counts as stuck, nothing is said.
    private async Task StartUpAsync(CancellationToken stop)
    {
        var began = time.GetTimestamp();
        while (condition.Faults.Count > 0 && time.GetElapsedTime(began).TotalSeconds < options.StuckAfterSeconds)
            await Task.Delay(TimeSpan.FromSeconds(1), time, stop);
    }

    private bool AllWorks()
    {
        var faults = condition.Faults;
        if (faults.Count > 0 && !_held)
            logger.SignsOfLifeHeld(string.Join("; ", faults.Select(fault => $"{fault.Part}: {fault.Why}")));
        else if (faults.Count == 0 && _held)
            logger.SignsOfLifeGoOn();
        _held = faults.Count > 0;
        return !_held;
    }

    private async Task AskAsync(HttpClient http, Uri target, CancellationToken stop)
    {
        var why = await WhyNotHeardAsync(http, target, stop);
        if (why is not null && _failures++ == 0)
            logger.SignOfLifeFails(target.Host, why, options.SignOfLife.EverySeconds);
        if (why is null && _failures > 0)
            logger.SignOfLifeResumed(target.Host, _failures);
        if (why is null)
            _failures = 0;
    }

    private async Task<string?> WhyNotHeardAsync(HttpClient http, Uri target, CancellationToken stop)
    {
        try
        {
            using var request = new HttpRequestMessage(
                options.SignOfLife.Method switch { SignOfLifeMethod.Head => HttpMethod.Head, SignOfLifeMethod.Post => HttpMethod.Post, _ => HttpMethod.Get }, target);
            using var answer = await http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, stop);
            return answer.IsSuccessStatusCode ? null : $"it answered {(int)answer.StatusCode}";
        }
        catch (HttpRequestException fault)
        {
            return fault.InnerException?.Message ?? fault.Message;
        }
        catch (OperationCanceledException) when (!stop.IsCancellationRequested)
        {
            return $"no answer within {options.SignOfLife.TimeoutSeconds:0.#} s";
        }
    }
}
