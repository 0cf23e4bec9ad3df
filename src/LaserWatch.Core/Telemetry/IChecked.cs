namespace LaserWatch.Telemetry;

/// <summary>Options that can be wrong in more than one value at a time.</summary>
public interface IChecked
{
    /// <summary>What is wrong with the values taken together, each a sentence that ends in the mend after its last colon.</summary>
    IEnumerable<string> Mistakes();
}
