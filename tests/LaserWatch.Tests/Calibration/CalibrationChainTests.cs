namespace LaserWatch.Calibration;

public class CalibrationChainTests
{
    private static readonly CalibrationChain CheapBoard = new([
        new DividerStep { FixedOhms = 10_000, RawAtSupply = 1023 },
        new NtcBetaStep { R25Ohms = 10_000, BetaKelvin = 3950 },
    ]);

    [Fact]
    public void Steps_apply_in_order()
    {
        Assert.True(CheapBoard.TryApply(1023 / 2.0, out var value, out _));
        Assert.Equal(25, value, 1e-9);
        Assert.Equal((null, "°C"), (CheapBoard.RawUnit, CheapBoard.ValueUnit));
    }

    [Fact]
    public void The_first_fault_ends_the_chain()
    {
        Assert.False(CheapBoard.TryApply(1023, out var value, out var fault));
        Assert.Equal((0.0, CalibrationFault.OpenCircuit), (value, fault));
    }

    [Theory]
    [InlineData(double.NaN)]
    [InlineData(double.PositiveInfinity)]
    public void What_is_no_number_goes_into_no_step(double raw)
    {
        Assert.False(CalibrationChain.Empty.TryApply(raw, out _, out var fault));
        Assert.Equal(CalibrationFault.NotFinite, fault);
    }

    [Fact]
    public void An_empty_chain_changes_nothing()
    {
        Assert.True(CalibrationChain.Empty.TryApply(182.4, out var value, out _));
        Assert.Equal(182.4, value);
    }

    [Fact]
    public void Steps_whose_units_do_not_meet_are_a_mistake()
    {
        Assert.Equal(
            ["step 2 takes mA, but step 1 gives A: put a step between them that converts, or change their order"],
            CalibrationChain.Mistakes([new CurrentClampStep(), new CurrentLoopStep { ValueAt20Milliamps = 10 }]));
        Assert.Empty(CalibrationChain.Mistakes([new DividerStep(), new RtdStep()]));
        Assert.Equal(["step 1: raw1 and raw2 are both 0: give two different points"], CalibrationChain.Mistakes([new LinearStep { Value2 = 1 }]));
    }

    [Fact]
    public void Applying_a_chain_allocates_nothing()
    {
        var chain = new CalibrationChain([
            new LinearStep { Raw2 = 2, Value2 = 1 }, new PolynomialStep { Coefficients = [0, 1] },
            new TableStep { Points = [new() { Raw = 0, Value = 0 }, new() { Raw = 2000, Value = 2000 }] },
            new DividerStep(), new NtcBetaStep(),
        ]);
        for (var i = 0; i < 100; i++)
            chain.TryApply(512, out _, out _);

        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var i = 0; i < 1000; i++)
            chain.TryApply(i, out _, out _);
        Assert.Equal(0, GC.GetAllocatedBytesForCurrentThread() - before);
    }
}
