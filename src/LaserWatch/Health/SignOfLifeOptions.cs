using System.ComponentModel.DataAnnotations;
using LaserWatch.Configuration;

namespace LaserWatch.Health;

/// <summary>How the sign of life is given.</summary>
public enum SignOfLifeMethod
{
    Get,
    Head,
    Post,
}

/// <summary>A request to an address of yours at an interval, only while all of the agent works: its staying away says that nothing is watched.</summary>
public sealed record SignOfLifeOptions : ICheckedOptions
{
    /// <summary>The address, as in <c>https://watcher.example/laser-shop</c>; null: none is given. It is not logged beyond its host.</summary>
    public string? Url { get; init; }

    /// <summary>The request that is made: <c>get</c>, <c>head</c> or <c>post</c> (without a body). Any answer from 200 to 299 counts as heard.</summary>
    public SignOfLifeMethod Method { get; init; } = SignOfLifeMethod.Get;

    /// <summary>Seconds between two. Default 60. The watcher should wait for two or three of these before it calls.</summary>
    [Range(5, 86_400)]
    public double EverySeconds { get; init; } = 60;

    /// <summary>Seconds to wait for the answer. Default 10.</summary>
    [Range(1, 120)]
    public double TimeoutSeconds { get; init; } = 10;

    public IEnumerable<OptionMistake> Mistakes()
    {
        if (Url is not null && !(Uri.TryCreate(Url, UriKind.Absolute, out var uri) && uri.Scheme is "http" or "https"))
            yield return new("url", $"'{Url}' is no address of HTTP", "write one that begins with http:// or https://, or leave the key out");
    }
}
