using CsCheck;

namespace LaserWatch.Configuration;

public class NearestWordTests
{
    private static readonly string[] Words = ["keepFiles", "maxFileMegabytes", "level", "folder"];

    private static readonly Gen<string> Word = Gen.Char["abc"].Array[0, 6].Select(letters => new string(letters));

    [Theory]
    [InlineData("keep_files", "keepFiles")]
    [InlineData("KeepFile", "keepFiles")]
    [InlineData("lvele", "level")]
    [InlineData("maxFileMegabites", "maxFileMegabytes")]
    [InlineData("colour", null)]
    [InlineData("a", null)]
    [InlineData("", null)]
    public void A_slip_is_recognised_and_a_stranger_is_not(string typed, string? meant) => Assert.Equal(meant, NearestWord.To(typed, Words));

    [Fact]
    public void The_distance_of_words_is_zero_only_to_itself_the_same_both_ways_and_bounded_by_their_lengths() =>
        Gen.Select(Word, Word).Sample((a, b) =>
        {
            var edits = NearestWord.Edits(a, b);
            return edits == NearestWord.Edits(b, a) && (edits == 0) == (a == b)
                && edits <= Math.Max(a.Length, b.Length) && edits >= Math.Abs(a.Length - b.Length);
        });

    [Fact]
    public void One_slip_of_the_finger_is_one_edit() =>
        Gen.Select(Word.Where(w => w.Length > 1), Gen.Int[0, 100], Gen.Int[0, 3]).Sample((word, place, slip) =>
        {
            var at = place % (word.Length - 1);
            var slipped = slip switch
            {
                0 => word.Insert(at, "z"),
                1 => word.Remove(at, 1),
                2 => word[..at] + 'z' + word[(at + 1)..],
                _ => word[..at] + word[at + 1] + word[at] + word[(at + 2)..],
            };
            return NearestWord.Edits(word, slipped) == (word == slipped ? 0 : 1);
        });
}
