namespace LaserWatch.Storage.Influx;

/// <summary>Rows that a page of an answer covers.</summary>
/// <param name="Table">Null where there is nothing in the time covered.</param>
/// <param name="Rows">Rows of the table that count; what follows them belongs to the next page.</param>
/// <param name="Covered">The last nanosecond up to which the page holds everything.</param>
internal readonly record struct ServerPage(AnswerTable? Table, int Rows, long Covered);

/// <summary>Reads a measurement in time order, page by page, so that an answer never holds more than a page.</summary>
internal sealed class ServerReader(InfluxConnection server)
{
    /// <summary>Each request costs the server some 0.1 s before its first row; of eight columns, so many rows cost it as much again.</summary>
    public const int PageRows = 25_000;

    /// <param name="select">What to select, quoted.</param>
    /// <param name="where">Further conditions, each followed by <c>AND</c>; may be empty.</param>
    /// <param name="first">Included, as <paramref name="last"/>.</param>
    public async Task<ServerPage> PageAsync(string select, string measurement, string where, long first, long last, CancellationToken stop)
    {
        if (first > last)
            return new(null, 0, last);
        var table = await AskAsync(select, measurement, where, first, last, $" LIMIT {PageRows}", stop).ConfigureAwait(false);
        if (table is null || (table.Rows < PageRows && !table.IsCut))
            return new(table, table?.Rows ?? 0, last);

        // At the last time there may be more rows, of series with other tags.
        var end = table.Times[^1];
        var rows = table.Rows;
        while (rows > 0 && table.Times[rows - 1] == end)
            rows--;
        if (rows > 0)
            return new(table, rows, end - 1);
        table = await AskAsync(select, measurement, where, end, end, "", stop).ConfigureAwait(false);
        return new(table, table?.Rows ?? 0, end);
    }

    /// <summary>The first time from one on at which there is something; null where there is none.</summary>
    public async Task<long?> NextAsync(string select, string measurement, string where, long first, long last, CancellationToken stop) =>
        first > last ? null
        : await AskAsync(select, measurement, where, first, last, " LIMIT 1", stop).ConfigureAwait(false) is { Rows: > 0 } table ? table.Times[0]
        : null;

    /// <summary>All tables of a statement.</summary>
    public Task<IReadOnlyList<AnswerTable>> QueryAsync(string statement, CancellationToken stop) => server.QueryAsync(statement, stop);

    private async Task<AnswerTable?> AskAsync(
        string select, string measurement, string where, long first, long last, string limit, CancellationToken stop)
    {
        var tables = await server.QueryAsync(
            $"SELECT {select} FROM {InfluxQl.Name(measurement)} WHERE {where}{InfluxQl.Within(first, last)} ORDER BY time ASC{limit}", stop).ConfigureAwait(false);
        return tables.Count == 0 ? null : tables[0];
    }
}
