using System.ComponentModel.DataAnnotations;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace LaserWatch.Calibration;

public class CalibrationStepTests
{
    private static readonly JsonSerializerOptions CamelCase = new(JsonSerializerDefaults.Web)
    {
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
    };

    [Theory]
    [InlineData("""{"kind":"linear","raw1":0,"value1":0,"raw2":1023,"value2":100}""", typeof(LinearStep))]
    [InlineData("""{"kind":"current-loop","valueAt4Milliamps":0,"valueAt20Milliamps":1000}""", typeof(CurrentLoopStep))]
    [InlineData("""{"kind":"polynomial","coefficients":[0,1,0.5]}""", typeof(PolynomialStep))]
    [InlineData("""{"kind":"table","points":[{"raw":0,"value":1},{"raw":1,"value":3}],"clampEnds":true}""", typeof(TableStep))]
    [InlineData("""{"kind":"ntc-beta","r25Ohms":10000,"betaKelvin":3950}""", typeof(NtcBetaStep))]
    [InlineData("""{"kind":"ntc-steinhart-hart","a":0.001129,"b":0.000234,"c":8.8E-08}""", typeof(NtcSteinhartHartStep))]
    [InlineData("""{"kind":"rtd","r0Ohms":1000}""", typeof(RtdStep))]
    [InlineData("""{"kind":"current-clamp","ratio":2000,"burdenOhms":20}""", typeof(CurrentClampStep))]
    [InlineData("""{"kind":"divider","fixedOhms":4700,"rawAtSupply":4095,"sensorAtSupply":true}""", typeof(DividerStep))]
    public void Each_kind_reads_from_JSON_by_its_name_and_writes_the_same(string json, Type kind)
    {
        var step = JsonSerializer.Deserialize<CalibrationStep>(json, CamelCase)!;

        Assert.IsType(kind, step);
        Assert.Equal(json, JsonSerializer.Serialize(step, CamelCase));
        Assert.Empty(step.Mistakes());
        Validator.ValidateObject(step, new(step), validateAllProperties: true);
    }

    [Fact]
    public void Every_step_of_the_assembly_has_a_kind()
    {
        var named = typeof(CalibrationStep).GetCustomAttributes(typeof(JsonDerivedTypeAttribute), false)
            .Cast<JsonDerivedTypeAttribute>().Select(a => a.DerivedType);
        var all = typeof(CalibrationStep).Assembly.GetTypes().Where(t => t.IsSubclassOf(typeof(CalibrationStep)));

        Assert.Equal(all.OrderBy(t => t.Name), named.OrderBy(t => t.Name));
    }
}
