package chill

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Lumped cooling against a stepwise integration of m·dh/dt = −UA·(T − Ta) with temperature-dependent heat capacity.
func TestCoolingMatchesStepwiseIntegration(t *testing.T) {
	t.Parallel()
	worst := 0.0
	for _, c := range []struct{ mass, from, ambient, ua, to float64 }{
		{588, 80, 0, 3, 34}, {2400, 92, 25, 1.2, 45}, {850, 72, 0, 5, 7}, {5000, 60, 3, 12, 5},
	} {
		h, seconds := WaterEnthalpy(c.from), 0.0
		for temp := c.from; temp > c.to; seconds += 0.05 {
			h -= c.ua * (temp - c.ambient) * 0.05 / c.mass
			temp = waterTemp(h)
		}
		got := CoolingMinutes(c.mass, c.from, c.ambient, c.ua, c.to)
		worst = max(worst, math.Abs(got/(seconds/60)-1))
		assert.InEpsilon(t, seconds/60, got, 0.005, "%+v", c)
	}
	t.Logf("largest error %.2f %%", 100*worst)
}

func TestCoolingToAmbientTakesForever(t *testing.T) {
	t.Parallel()
	assert.True(t, math.IsInf(CoolingMinutes(500, 80, 20, 2, 20), 1))
	assert.True(t, math.IsInf(CoolingMinutes(500, 80, 20, 0, 40), 1))
	assert.Zero(t, CoolingMinutes(500, 30, 20, 2, 40))
}

func TestBathIceAbsorbsTheBeveragesHeat(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		mass := rapid.Float64Range(100, 20000).Draw(t, "mass")
		from := rapid.Float64Range(30, 100).Draw(t, "from")
		to := rapid.Float64Range(1, 29).Draw(t, "to")
		iceC := rapid.Float64Range(-40, 0).Draw(t, "ice")
		ice := BathIceG(mass, from, to, 0, iceC, 0)
		released := mass * (WaterEnthalpy(from) - WaterEnthalpy(to))
		absorbed := ice * (WaterEnthalpy(0) - IceEnthalpy(iceC))
		if math.Abs(released-absorbed) > 1e-9*released {
			t.Fatalf("released %g J, absorbed %g J", released, absorbed)
		}
	})
}

func TestBathWarmsOnceItsIceRunsOut(t *testing.T) {
	t.Parallel()
	enough := Bath{IceG: 3000, WaterG: 3000}
	short := Bath{IceG: 600, WaterG: 3000}
	a, b := enough.Cool(2000, 80, 10, 30), short.Cool(2000, 80, 10, 30)
	assert.Less(t, a.Minutes, b.Minutes)
	assert.InDelta(t, CoolingMinutes(2000, 80, 0, 10, 30), a.Minutes, 1e-9)
	assert.Positive(t, a.IceLeftG)
	assert.Zero(t, b.IceLeftG)
	assert.Greater(t, b.BathC, 0.0)
	// The beverage's heat melts the ice and warms the bath.
	released := 2000 * (WaterEnthalpy(80) - WaterEnthalpy(30))
	absorbed := 600*(WaterEnthalpy(0)-IceEnthalpy(0)) + 3600*4.19*b.BathC
	assert.InEpsilon(t, released, absorbed, 0.01)

	never := Bath{IceG: 100, WaterG: 500}.Cool(2000, 80, 10, 10)
	assert.True(t, math.IsInf(never.Minutes, 1))
	assert.Greater(t, never.FinalC, 10.0)
}

func TestCoolingLimits(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		stages  []Stage
		broken  CoolingFault
		running CoolingFault
	}{
		{"bath, then ice to 4 °C", []Stage{{80, 34, 0, 12}, {34, 4, 0, 0}}, 0, 0},
		{"bath, then ice to 7 °C: the fridge does the rest", []Stage{{80, 34, 0, 12}, {34, 7, 0, 0}}, 0, StoredAbove},
		{"left on the bench", []Stage{{80, 30, 25, 400}}, StillHot, 0},
		{"put away warm", []Stage{{80, 30, 25, 90}}, 0, StoredWarm},
		{"slow to 21 °C", []Stage{{90, 57, 22, 60}, {57, 21, 20, 150}, {21, 4, 0, 30}}, FirstSlow, 0},
		{"slow from 21 °C", []Stage{{57, 21, 0, 20}, {21, 5, 4, 300}}, SecondSlow, 0},
		{"fast enough", []Stage{{57, 21, 0, 100}, {21, 5, 0, 200}}, 0, 0},
		{"cold brew", []Stage{{5, 5, 5, 0}}, 0, 0},
		{"no stages", nil, 0, 0},
	} {
		j := DefaultCooling.Judge(c.stages)
		var broken, running CoolingFault
		for _, f := range j.Broken {
			require.Zero(t, broken, "%s: %v", c.name, j.Broken)
			broken = f.Fault
		}
		if j.Running != nil {
			running = j.Running.Fault
		}
		assert.Equal(t, c.broken, broken, c.name)
		assert.Equal(t, c.running, running, c.name)
	}
}

func TestCoolingFindingsCarryTheirFigures(t *testing.T) {
	t.Parallel()
	// A straight line in time: no ambient temperature below the end.
	slow := DefaultCooling.Judge([]Stage{{90, 57, 22, 60}, {57, 21, 20, 150}, {21, 4, 0, 30}})
	assert.Equal(t, []CoolingFinding{{FirstSlow, 57, 150}}, slow.Broken)
	bench := DefaultCooling.Judge([]Stage{{57, 30, 25, 400}})
	assert.Equal(t, []CoolingFinding{{StillHot, 30, 400}}, bench.Broken)
	fridge := DefaultCooling.Judge([]Stage{{57, 21, 0, 20}, {21, 7, 0, 60}})
	assert.Equal(t, &CoolingFinding{StoredAbove, 7, 180}, fridge.Running)
	warm := DefaultCooling.Judge([]Stage{{57, 30, 25, 90}})
	assert.Equal(t, &CoolingFinding{StoredWarm, 30, 30}, warm.Running)
}

func BenchmarkCoolingMinutes(b *testing.B) {
	for b.Loop() {
		CoolingMinutes(2000, 80, 0, 10, 34)
	}
}

func TestBathCannotCoolBelowItsOwnTemperature(t *testing.T) {
	t.Parallel()
	unstirred := Bath{IceG: 3000, WaterG: 3000, ColdC: 2}
	end := unstirred.Cool(1000, 60, 10, 1)
	assert.True(t, math.IsInf(end.Minutes, 1))
	assert.InDelta(t, 2, end.FinalC, 1e-9)
	assert.InDelta(t, 2, end.BathC, 1e-9)
	// The ice melted is that for cooling to the bath's temperature.
	assert.InDelta(t, 3000-1000*(WaterEnthalpy(60)-WaterEnthalpy(2))/(WaterEnthalpy(2)-IceEnthalpy(0)), end.IceLeftG, 1e-6)
	reached := unstirred.Cool(1000, 60, 10, 5)
	assert.InDelta(t, CoolingMinutes(1000, 60, 2, 10, 5), reached.Minutes, 1e-9)
	assert.InDelta(t, 5, reached.FinalC, 1e-9)
	assert.InDelta(t, 3000-1000*(WaterEnthalpy(60)-WaterEnthalpy(5))/(WaterEnthalpy(2)-IceEnthalpy(0)), reached.IceLeftG, 1e-6)

	assert.Equal(t, BathEnd{IceLeftG: 3000, BathC: 2, FinalC: 4}, unstirred.Cool(1000, 4, 10, 5), "already cold enough")
	empty := Bath{}.Cool(1000, 60, 10, 5)
	assert.True(t, math.IsInf(empty.Minutes, 1))
	assert.InDelta(t, 60, empty.FinalC, 0, "nothing to cool with")
	insulated := Bath{IceG: 10, WaterG: 3000}.Cool(1000, 60, 0, 30)
	assert.True(t, math.IsInf(insulated.Minutes, 1))
}

// After the ice has melted, against a stepwise integration of both temperatures.
func TestWarmingBathMatchesStepwiseIntegration(t *testing.T) {
	t.Parallel()
	b := Bath{IceG: 600, WaterG: 3000}
	got := b.Cool(2000, 80, 10, 30)
	beverage, bath, ice, seconds := 80.0, 0.0, 600.0, 0.0
	for ; beverage > 30; seconds += 0.05 {
		j := 10 * (beverage - bath) * 0.05
		beverage -= j / (2000 * 4.19)
		if ice > 0 {
			ice -= j / 333.4
		} else {
			bath += j / (3600 * 4.19)
		}
	}
	assert.InEpsilon(t, seconds/60, got.Minutes, 0.01)
	assert.InDelta(t, bath, got.BathC, 0.2)
}

func TestBathIceDependsOnItsTemperatureAndWetness(t *testing.T) {
	t.Parallel()
	heat := 1000 * (WaterEnthalpy(80) - WaterEnthalpy(20))
	assert.InEpsilon(t, heat/(WaterEnthalpy(0)-IceEnthalpy(-10)), BathIceG(1000, 80, 20, 0, -10, 0), 1e-9)
	assert.InEpsilon(t, heat/(WaterEnthalpy(5)-IceEnthalpy(-10)), BathIceG(1000, 80, 20, 5, -10, 0), 1e-9, "a warmer bath takes less ice")
	assert.InEpsilon(t, heat/(0.8*(WaterEnthalpy(0)-IceEnthalpy(-10))), BathIceG(1000, 80, 20, 0, -10, 0.2), 1e-9, "wet ice absorbs less")
	assert.Zero(t, BathIceG(1000, 20, 20, 0, -10, 0))
	assert.Zero(t, BathIceG(0, 80, 20, 0, -10, 0))
	assert.True(t, math.IsInf(BathIceG(1000, 80, 20, 0, 0, 1), 1), "water at 0 °C does not cool a bath at 0 °C")
}

func TestCoolingClock(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		stages  []Stage
		broken  int
		running bool
	}{
		{"both limits used in full", []Stage{{57, 21, 0, 120}, {21, 5, 0, 240}}, 0, false},
		{"a minute over the first", []Stage{{57, 21, 0, 121}, {21, 5, 0, 240}}, 1, false},
		{"a minute over the second", []Stage{{57, 21, 0, 120}, {21, 5, 0, 241}}, 1, false},
		{"over both", []Stage{{57, 21, 0, 121}, {21, 5, 0, 241}}, 2, false},
		{"time above 57 °C does not count", []Stage{{90, 57, 22, 200}, {57, 21, 0, 120}, {21, 5, 0, 0}}, 0, false},
		{"a brew below 57 °C is timed from its start", []Stage{{40, 21, 0, 121}, {21, 5, 0, 0}}, 1, false},
		{"a brew below 21 °C has only the second limit", []Stage{{20, 5, 0, 240}}, 0, false},
		{"a brew below 21 °C that takes too long", []Stage{{20, 5, 0, 241}}, 1, false},
		{"put away above 21 °C in time", []Stage{{80, 30, 25, 60}}, 0, true},
		{"still above 57 °C", []Stage{{80, 60, 25, 400}}, 0, true},
		{"put away above 21 °C too late", []Stage{{57, 30, 0, 121}}, 1, false},
		{"put away above 5 °C in time", []Stage{{57, 21, 0, 60}, {21, 8, 0, 240}}, 0, true},
		{"put away above 5 °C too late", []Stage{{57, 21, 0, 60}, {21, 8, 0, 241}}, 1, false},
		{"warmer surroundings: a temperature counts as reached at the end of the stage", []Stage{{57, 21, 30, 121}}, 1, true},
	} {
		j := DefaultCooling.Judge(c.stages)
		assert.Len(t, j.Broken, c.broken, "%s: %v", c.name, j.Broken)
		assert.Equal(t, c.running, j.Running != nil, "%s: %v", c.name, j.Running)
	}
	// Within a stage the time to a temperature follows lumped cooling: of 60 min from 80 °C to 10 °C in 0 °C surroundings,
	// ln(80/21)/ln(8) are gone at 21 °C.
	at21 := 60 * math.Log(80.0/21) / math.Log(8)
	at57 := 60 * math.Log(80.0/57) / math.Log(8)
	stages := []Stage{{80, 10, 0, 60}}
	l := DefaultCooling
	l.FirstMin = at21 - at57 + 0.01
	assert.Empty(t, l.Judge(stages).Broken)
	l.FirstMin = at21 - at57 - 0.01
	assert.Len(t, l.Judge(stages).Broken, 1)
}
