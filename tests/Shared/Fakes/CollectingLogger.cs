using Microsoft.Extensions.Logging;

namespace LaserWatch.Fakes;

/// <summary>Keeps the ids of what is logged. Safe for several threads.</summary>
public sealed class CollectingLogger<T> : ILogger<T>
{
    private readonly List<int> _ids = [];

    public IReadOnlyList<int> Ids
    {
        get
        {
            lock (_ids)
                return [.. _ids];
        }
    }

    public IDisposable? BeginScope<TState>(TState state) where TState : notnull => null;

    public bool IsEnabled(LogLevel logLevel) => true;

    public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter)
    {
        lock (_ids)
            _ids.Add(eventId.Id);
    }
}
