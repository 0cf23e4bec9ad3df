using System.Text;

namespace LaserWatch.Storage.Influx;

/// <summary>Sends some lines in order, and finds by halving those that the server refuses for good.</summary>
/// <remarks>
/// A server that refuses a request for one of its lines may have taken the others all the same; sending them again changes nothing.
/// </remarks>
internal sealed class LineSending(InfluxConnection server, int batchLines)
{
    /// <summary>Requests that may go into finding the lines at fault; what is not told apart by then counts as refused with them.</summary>
    private const int MostRequests = 200;

    private readonly List<RefusedLine> _refused = [];
    private int _requestsLeft = MostRequests;

    /// <returns>The lines that the server will never take.</returns>
    /// <exception cref="InfluxFaultException">The server takes nothing: what was sent before may be there.</exception>
    public async Task<IReadOnlyList<RefusedLine>> SendAsync(List<ReadOnlyMemory<byte>> lines, CancellationToken stop)
    {
        for (var at = 0; at < lines.Count; at += batchLines)
            await WriteAsync(lines.GetRange(at, Math.Min(batchLines, lines.Count - at)), stop).ConfigureAwait(false);
        return _refused;
    }

    private async Task WriteAsync(List<ReadOnlyMemory<byte>> lines, CancellationToken stop)
    {
        try
        {
            _requestsLeft--;
            await server.WriteAsync(TextOf(lines), stop).ConfigureAwait(false);
        }
        catch (InfluxFaultException fault) when (fault.Kind is InfluxFaultKind.Refused or InfluxFaultKind.TooLarge)
        {
            if (lines.Count == 1 || (fault.Kind == InfluxFaultKind.Refused && _requestsLeft <= 0))
            {
                _refused.AddRange(lines.Select(line => new RefusedLine(line, fault.Message)));
                return;
            }

            var half = lines.Count / 2;
            await WriteAsync(lines.GetRange(0, half), stop).ConfigureAwait(false);
            await WriteAsync(lines.GetRange(half, lines.Count - half), stop).ConfigureAwait(false);
        }
    }

    private static string TextOf(List<ReadOnlyMemory<byte>> lines)
    {
        var text = new StringBuilder();
        foreach (var line in lines)
        {
            if (text.Length > 0)
                text.Append('\n');
            text.Append(Encoding.UTF8.GetString(line.Span));
        }

        return text.ToString();
    }
}
