using Microsoft.Extensions.Logging;

namespace LaserWatch.Mqtt;

/// <summary>Keeps what was logged, for a test to read.</summary>
public sealed class LogLines<T> : ILogger<T>
{
    private readonly List<(LogLevel Level, string Text)> _lines = [];

    public IReadOnlyList<(LogLevel Level, string Text)> All
    {
        get
        {
            lock (_lines)
                return [.. _lines];
        }
    }

    public IReadOnlyList<string> Warnings => [.. All.Where(l => l.Level >= LogLevel.Warning).Select(l => l.Text)];

    public IDisposable? BeginScope<TState>(TState state)
        where TState : notnull => null;

    public bool IsEnabled(LogLevel logLevel) => true;

    public void Log<TState>(
        LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter)
    {
        lock (_lines)
            _lines.Add((logLevel, formatter(state, exception)));
    }
}
