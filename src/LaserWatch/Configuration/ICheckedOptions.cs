namespace LaserWatch.Configuration;

/// <summary>Options that know at which key the mistake stands.</summary>
public interface ICheckedOptions
{
    /// <summary>What is wrong with the values taken together.</summary>
    IEnumerable<OptionMistake> Mistakes();
}
