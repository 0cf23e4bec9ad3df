namespace LaserWatch.Reports.Sections;

/// <summary>What the reader must not take this for.</summary>
internal static class CautionsSection
{
    // From the README's section on what tube current cannot show, and common practice of the trade; no published source.
    private static readonly string[] Sentences =
    [
        "Tube current is not light. While a supply still regulates, it holds the current as the tube’s gas ages and its light fades; a steady current therefore does not show a good tube.",
        "A fallen current does not by itself show a worn tube. A supply at its voltage limit, the command, the mains, the return path and the current sensor can each lower it. A test cut or a thermal power probe tells light lost from current lost; exchanging the supply tells tube from supply.",
        "Below about 30 % of power the supply delivers pulses without a clear level; such currents are left out, as are raster engravings.",
        "The sensors were fitted and calibrated by the shop. The report shows what they told, not that they told the truth.",
        "Coolant and air were judged against the limits that the shop configured; these need not be the warranty’s own.",
        Alarms.Cautions.Advisory + " Tens of kilovolts stand at the tube and stay after it is switched off: whoever checks tube or supply must be qualified for it.",
    ];

    public static void Print(Markup page, EvidenceReport report)
    {
        page.Open("ul", ("class", "plain")).Line();
        foreach (var sentence in Sentences)
            page.Element("li", sentence).Line();
        page.CloseLine();
    }
}
