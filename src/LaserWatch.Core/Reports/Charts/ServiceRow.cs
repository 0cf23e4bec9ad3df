using LaserWatch.History;

namespace LaserWatch.Reports.Charts;

/// <summary>Marks of service above a field, numbered as the service log of the report is; neighbours share a number's room.</summary>
internal sealed class ServiceRow
{
    private readonly Canvas _canvas;
    private readonly IReadOnlyList<ServiceMark> _services;
    private readonly IReadOnlyList<int> _numbers;

    private ServiceRow(IReadOnlyList<ServiceMark> services, IReadOnlyList<int> numbers, Canvas canvas) => (_services, _numbers, _canvas) = (services, numbers, canvas);

    public bool Any => _services.Count > 0;

    /// <param name="numbers">One a service, rising: where it stands in the report's service log.</param>
    public static ServiceRow Of(IReadOnlyList<ServiceMark> services, IReadOnlyList<int> numbers, Canvas canvas) => new(services, numbers, canvas);

    public static double Height(Canvas canvas) => canvas.FontSize + 10;

    public static string Triangle(double x, double tip) => Svg.Through([(x - 4, tip - 7), (x + 4, tip - 7), (x, tip)], closed: true);

    public void Draw(Svg svg, TimeScale times, double top, double bottom)
    {
        var free = 0.0;
        for (var i = 0; i < _services.Count;)
        {
            var first = i;
            var x = Place(i, times);
            Mark(svg, i, x, top, bottom);
            var last = x;
            var reach = x;
            for (i++; i < _services.Count && Place(i, times) - reach < 2 * _canvas.FontSize && Place(i, times) - x < 6 * _canvas.FontSize; i++)
            {
                reach = Place(i, times);
                // So many marks side by side are one dark stripe; every third pixel tells as much.
                if (reach - last < 3)
                    continue;
                last = reach;
                Mark(svg, i, last, top, bottom);
            }

            var label = i - first == 1 ? $"{_numbers[first]}" : $"{_numbers[first]}\u2013{_numbers[i - 1]}";
            var half = _canvas.WidthOf(label) / 2;
            var middle = Math.Clamp(Math.Max((x + reach) / 2, free + half), half, _canvas.Width - half);
            if (middle - half < free)
                continue;
            svg.Text(middle, top - 10, label, Anchor.Middle, "mark-text");
            free = middle + half + (0.4 * _canvas.FontSize);
        }
    }

    // Only what can move the current itself is drawn through the field: cleanings by the dozen would hide it.
    private void Mark(Svg svg, int index, double x, double top, double bottom)
    {
        if (_services[index].Part is "tube" or "supply" or "calibration" or "sensor")
            svg.Line(x, top, x, bottom, "mark");
        svg.Path(Triangle(x, top), "mark-fill");
    }

    private double Place(int index, TimeScale times) => Math.Clamp(times.X(ChannelTrend.ToDays(_services[index].At)), times.Left, times.Right);
}
