using System.Net;
using System.Net.Sockets;
using System.Security.Authentication;
using InfluxDB.Client.Core.Exceptions;

namespace LaserWatch.Storage.Influx;

internal enum InfluxFaultKind
{
    /// <summary>No answer, or the server is in trouble: the same request may succeed later.</summary>
    Unreachable,

    /// <summary>Address, token, organisation or bucket: a person must put it right, and then the same request succeeds.</summary>
    Setup,

    /// <summary>The server will never take these very lines.</summary>
    Refused,

    /// <summary>The server may take the lines in smaller pieces.</summary>
    TooLarge,
}

/// <summary>A request that InfluxDB did not grant; the message says what and the mend, in one line.</summary>
internal sealed class InfluxFaultException(InfluxFaultKind kind, string what, TimeSpan? retryAfter, Exception? inner) : Exception(what, inner)
{
    public InfluxFaultKind Kind { get; } = kind;

    /// <summary>How long the server asks to be left alone.</summary>
    public TimeSpan? RetryAfter { get; } = retryAfter;

    /// <summary>What came of a request that the client library reports as failed.</summary>
    public static InfluxFaultException Of(Exception fault, int timeoutSeconds)
    {
        if (fault is HttpException { Status: > 0 } answered)
            return OfAnswer((HttpStatusCode)answered.Status, answered.Message, answered.RetryAfter is { } seconds ? TimeSpan.FromSeconds(seconds) : null, fault);
        for (var cause = fault; cause is not null; cause = cause.InnerException)
        {
            switch (cause)
            {
                case AuthenticationException:
                    return new(
                        InfluxFaultKind.Setup,
                        $"the TLS handshake failed: {Line(cause.Message)}; if the server's certificate is of a private authority, name its file in store.influx.caFile",
                        null, fault);
                case SocketException:
                    return new(InfluxFaultKind.Unreachable, $"{Line(cause.Message)}; is the server running, and store.influx.url its address?", null, fault);
                case OperationCanceledException:
                    return new(InfluxFaultKind.Unreachable, $"no answer within {timeoutSeconds} s; see how the server is, or raise store.influx.timeoutSeconds", null, fault);
            }
        }

        return new(InfluxFaultKind.Unreachable, Line(fault.Message), null, fault);
    }

    public static InfluxFaultException OfAnswer(HttpStatusCode status, string words, TimeSpan? retryAfter, Exception? inner)
    {
        var said = $"it answers {(int)status}: {Line(words)}";
        return status switch
        {
            HttpStatusCode.BadRequest or HttpStatusCode.UnprocessableEntity => new(InfluxFaultKind.Refused, said, retryAfter, inner),
            HttpStatusCode.RequestEntityTooLarge => new(InfluxFaultKind.TooLarge, said, retryAfter, inner),
            HttpStatusCode.RequestTimeout or HttpStatusCode.TooManyRequests or >= HttpStatusCode.InternalServerError =>
                new(InfluxFaultKind.Unreachable, said, retryAfter, inner),
            HttpStatusCode.Unauthorized or HttpStatusCode.Forbidden =>
                new(InfluxFaultKind.Setup, $"{said}; give a token that may read and write the bucket in store.influx.token", retryAfter, inner),
            HttpStatusCode.NotFound =>
                new(InfluxFaultKind.Setup, $"{said}; make the bucket (and on InfluxDB before 2.4 its mapping for InfluxQL), or put store.influx.bucket, organisation and url right", retryAfter, inner),
            _ => new(InfluxFaultKind.Setup, $"{said}; is store.influx.url the address of an InfluxDB?", retryAfter, inner),
        };
    }

    private static string Line(string words)
    {
        var line = string.Join(' ', words.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)).TrimEnd('.');
        return line.Length <= 300 ? line : line[..300] + "…";
    }
}
