namespace LaserWatch.Mqtt;

public class ProtocolChoiceTests
{
    [Fact]
    public void A_broker_that_refuses_version_5_in_words_is_spoken_to_in_3_1_1_from_then_on()
    {
        var choice = new ProtocolChoice();
        Assert.True(choice.Five);
        choice.Refused();
        Assert.False(choice.Five);
        choice.HungUp();
        choice.Ended();
        Assert.False(choice.Five);
    }

    [Fact]
    public void A_broker_that_hangs_up_is_tried_in_turns_and_the_next_connection_begins_with_5()
    {
        var choice = new ProtocolChoice();
        choice.HungUp();
        Assert.False(choice.Five);
        choice.HungUp();
        Assert.True(choice.Five);
        choice.HungUp();
        choice.Ended();
        Assert.True(choice.Five);
    }

    [Fact]
    public void A_broker_that_refuses_both_is_tried_in_turns()
    {
        var choice = new ProtocolChoice();
        choice.Refused();
        choice.Refused();
        Assert.True(choice.Five);
    }
}
