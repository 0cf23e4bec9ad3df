namespace LaserWatch.Practice.Screen;

/// <summary>How a line stands out. It only repeats what its words say already.</summary>
public enum LineLook
{
    Usual,
    Bar,
    Heading,
    Waiting,
}

/// <summary>One line of the screen, never wider than the window.</summary>
public readonly record struct ScreenLine(string Text, LineLook Look = LineLook.Usual);
