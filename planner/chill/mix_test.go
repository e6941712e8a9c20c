package chill

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func drawMix(t *rapid.T) Mix {
	return Mix{
		BeverageG:   math.Pow(10, rapid.Float64Range(0, 6).Draw(t, "beverage")),
		BeverageC:   rapid.Float64Range(0, 100).Draw(t, "temp"),
		TDSPct:      rapid.Float64Range(0, 30).Draw(t, "tds"),
		IceC:        rapid.Float64Range(-40, 0).Draw(t, "ice temp"),
		WetShare:    rapid.Float64Range(0, 0.95).Draw(t, "wet"),
		VesselJPerK: rapid.SampledFrom([]float64{0, 150, 900}).Draw(t, "vessel"),
		VesselC:     rapid.Float64Range(0, 60).Draw(t, "vessel temp"),
		HeatGainJ:   rapid.SampledFrom([]float64{0, 500}).Draw(t, "gain"),
	}
}

func TestMassAndHeatBalancesClose(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMix(t)
		m.IceG = m.BeverageG * rapid.Float64Range(0, 5).Draw(t, "ice share")
		s := m.Settle()
		for _, x := range []float64{s.IceMeltedG, s.IceLeftG, s.FinalC, s.FinalG, s.FinalTDSPct} {
			if math.IsNaN(x) || math.IsInf(x, 0) || x < 0 {
				t.Fatalf("%+v gives %+v", m, s)
			}
		}
		if d := s.IceMeltedG + s.IceLeftG - m.IceG; math.Abs(d) > 1e-9*m.IceG {
			t.Fatalf("ice lost: %g", d)
		}
		if d := s.FinalG - m.BeverageG - s.IceMeltedG; math.Abs(d) > 1e-9*s.FinalG {
			t.Fatalf("drink lost: %g", d)
		}
		if d := s.FinalTDSPct*s.FinalG - m.TDSPct*m.BeverageG; math.Abs(d) > 1e-9*(1+m.TDSPct*m.BeverageG) {
			t.Fatalf("coffee lost: %g", d)
		}
		if s.Regime == WouldFreeze || s.FinalC >= MaxWaterC {
			return
		}
		// Heat is conserved, with the vessel at the drink's temperature.
		after := s.FinalG/1000*WaterEnthalpy(s.FinalC) + s.IceLeftG/1000*IceEnthalpy(0) + m.VesselJPerK/1000*s.FinalC
		before := m.heatKJ()
		if math.Abs(after-before) > 1e-9*(math.Abs(before)+m.BeverageG) {
			t.Fatalf("heat lost: %g of %g kJ", after-before, before)
		}
	})
}

func TestIceForAndSettleAgree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMix(t)
		target := rapid.Float64Range(0, 100).Draw(t, "target")
		ice, ok := m.IceFor(target)
		if !ok || ice == 0 {
			return
		}
		m.IceG = ice
		s := m.Settle()
		if math.Abs(s.FinalC-target) > 1e-6 || s.IceLeftG > 1e-6*ice {
			t.Fatalf("%g g of ice should give %g °C: %+v", ice, target, s)
		}
		// That ice needs no pre-cooling.
		pre, ok := m.PrecoolFor(target)
		if !ok || math.Abs(pre-m.BeverageC) > 1e-6 {
			t.Fatalf("pre-cool to %g instead of %g", pre, m.BeverageC)
		}
		// Colder ice never needs more, a colder target never less.
		colder := m
		colder.IceC = max(MinIceC, m.IceC-5)
		if x, _ := colder.IceFor(target); x > ice*(1+1e-12) {
			t.Fatalf("colder ice needs more: %g g, was %g g", x, ice)
		}
		if x, ok := m.IceFor(target * 0.9); ok && x < ice*(1-1e-12) {
			t.Fatalf("a colder target needs less: %g g, was %g g", x, ice)
		}
	})
}

func TestPrecoolingReachesTheTarget(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMix(t)
		m.VesselJPerK, m.HeatGainJ = 0, 0
		m.IceG = m.BeverageG * rapid.Float64Range(0, 1).Draw(t, "ice share")
		target := rapid.Float64Range(0.1, 60).Draw(t, "target")
		pre, ok := m.PrecoolFor(target)
		if !ok || pre > m.BeverageC || pre < min(target, m.BeverageC)-1e-9 {
			t.Fatalf("pre-cool to %g (%v)", pre, ok)
		}
		if pre == m.BeverageC {
			if f := m.Settle().FinalC; f > target+1e-6 && m.BeverageC > target {
				t.Fatalf("no pre-cooling advised, but it is at %g °C", f)
			}
			return
		}
		m.BeverageC = pre
		if f := m.Settle().FinalC; math.Abs(f-target) > 1e-6 {
			t.Fatalf("pre-cooled to %g °C it is at %g °C, not %g °C", pre, f, target)
		}
	})
}

func TestEveryChangeOfferedReachesTheTarget(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMix(t)
		m.VesselJPerK, m.HeatGainJ = 0, 0
		m.IceG = m.BeverageG * rapid.Float64Range(0, 1).Draw(t, "ice share")
		target := rapid.Float64Range(1, 30).Draw(t, "target")
		n := m.NearestTo(target)
		if n.Reaches {
			return
		}
		reached := func(x Mix) bool {
			s := x.Settle()
			return s.FinalC <= target+1e-9
		}
		if x := m; !math.IsNaN(n.PrecoolC) {
			x.BeverageC = n.PrecoolC
			if !reached(x) {
				t.Fatalf("cooling to %g is not enough", n.PrecoolC)
			}
		}
		if x := m; !math.IsNaN(n.IceG) {
			x.IceG = n.IceG
			if !reached(x) {
				t.Fatalf("%g g is not enough", n.IceG)
			}
		}
		if x := m; !math.IsNaN(n.IceC) {
			x.IceC = n.IceC
			if !reached(x) {
				t.Fatalf("ice of %g °C is not cold enough", n.IceC)
			}
		}
	})
}

func TestNearestChangesAreRoundedToTheSafeSide(t *testing.T) {
	t.Parallel()
	m := Mix{BeverageG: 850, BeverageC: 72, IceG: 300, IceC: -15}
	n := m.NearestTo(6)
	assert.False(t, n.Reaches)
	assert.InDelta(t, 38, n.PrecoolC, 0)
	assert.InDelta(t, 605, n.IceG, 0)
	assert.True(t, math.IsNaN(n.IceC), "no ice from a freezer is cold enough")
	m.IceG = 590
	assert.InDelta(t, -20, m.NearestTo(6).IceC, 0)
	m.IceG = 610
	assert.True(t, m.NearestTo(6).Reaches)
	m.IceG = 0
	n = m.NearestTo(6)
	assert.InDelta(t, 6, n.PrecoolC, 0)
	assert.InDelta(t, 605, n.IceG, 0)
}

func TestRegimes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		mix  Mix
		want Regime
	}{
		{"little ice", Mix{BeverageG: 200, BeverageC: 60, IceG: 50, IceC: -10}, AllMelted},
		{"ample ice", Mix{BeverageG: 200, BeverageC: 10, IceG: 150, IceC: -10}, IceLeft},
		{"very cold ice in a cold drink", Mix{BeverageG: 200, BeverageC: 0.5, IceG: 300, IceC: -30}, WouldFreeze},
		{"both at 0 °C", Mix{BeverageG: 200, BeverageC: 0, IceG: 50, IceC: 0}, IceLeft},
	} {
		s := c.mix.Settle()
		assert.Equal(t, c.want, s.Regime, c.name)
		if s.Regime == WouldFreeze {
			assert.Equal(t, State{IceLeftG: c.mix.IceG, FinalG: c.mix.BeverageG, Regime: WouldFreeze}, s)
		}
	}
}

// Common practice, no source: a drink chilled to 5–10 °C melts little of its serving ice.
func TestColdDrinkMeltsLittleServingIce(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ drinkC, byHandG float64 }{{5, 9.6}, {10, 20.9}, {15, 32.3}} {
		g := Glass{Mix: Mix{BeverageG: 180, BeverageC: c.drinkC, TDSPct: 1.4, IceG: 140, IceC: -2}, CupUAWPerK: 0.4, RoomC: 30}
		melted := g.FirstSip().IceMeltedG
		t.Logf("180 g at %g °C melts %.1f g of 140 g, strength %.2f %%", c.drinkC, melted, g.FirstSip().FinalTDSPct)
		assert.InDelta(t, c.byHandG, melted, 0.2, "(180·4.2·T − 140·2.1·2)/333.4")
	}
}

func TestTheLastSipIsWeakerAndNoColder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMix(t)
		m.VesselJPerK, m.HeatGainJ = 0, 0
		m.IceG = m.BeverageG * rapid.Float64Range(0, 2).Draw(t, "ice share")
		g := Glass{Mix: m, CupUAWPerK: rapid.Float64Range(0, 5).Draw(t, "ua"), RoomC: rapid.Float64Range(0, 45).Draw(t, "room")}
		first := g.FirstSip()
		soon := g.LastSip(rapid.Float64Range(0, 60).Draw(t, "soon"))
		late := g.LastSip(rapid.Float64Range(60, 600).Draw(t, "late"))
		for _, s := range []State{soon, late} {
			if math.IsNaN(s.FinalC) || s.IceLeftG < -1e-9 || s.FinalTDSPct > first.FinalTDSPct+1e-9 || s.FinalC < first.FinalC-1e-9 {
				t.Fatalf("first %+v, then %+v", first, s)
			}
		}
		if late.IceLeftG > soon.IceLeftG+1e-9 || late.FinalC < soon.FinalC-1e-9 {
			t.Fatalf("soon %+v, late %+v", soon, late)
		}
	})
}

func TestEnthalpyInverseIsExact(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(0, 100).Draw(t, "temp")
		if back := waterTemp(WaterEnthalpy(c)); math.Abs(back-c) > 1e-9 {
			t.Fatalf("%g °C round-trips to %g °C", c, back)
		}
	})
}

func BenchmarkSettle(b *testing.B) {
	m := Mix{BeverageG: 850, BeverageC: 72, IceG: 300, IceC: -15}
	for b.Loop() {
		m.Settle()
	}
}

func TestIceForWithoutASolution(t *testing.T) {
	t.Parallel()
	_, ok := Mix{BeverageG: 100, BeverageC: 20, IceC: 0, WetShare: 1}.IceFor(0)
	assert.False(t, ok)
	ice, ok := Mix{BeverageG: 100, BeverageC: 4, IceC: -5}.IceFor(7)
	require.True(t, ok)
	assert.Zero(t, ice, "colder than the target already")
}

func TestWarmVesselCanBeTooMuchForTheIce(t *testing.T) {
	t.Parallel()
	// 900 J/K at 60 °C hold more heat than 5 g of ice absorb: no beverage is cold enough.
	m := Mix{BeverageG: 50, BeverageC: 40, IceG: 5, IceC: -5, VesselJPerK: 900, VesselC: 60}
	_, ok := m.PrecoolFor(5)
	assert.False(t, ok)
	assert.True(t, math.IsNaN(m.NearestTo(5).PrecoolC))
	assert.Positive(t, m.NearestTo(5).IceG)
}

func TestServingIceMeltsAsFastAsTheRoomHeatsTheCup(t *testing.T) {
	t.Parallel()
	g := Glass{Mix: Mix{BeverageG: 200, BeverageC: 0, TDSPct: 1.5, IceG: 150, IceC: 0}, CupUAWPerK: 0.4, RoomC: 30}
	// 0.4 W/K · 30 K · 900 s / 333.4 J/g
	assert.InDelta(t, 32.4, g.LastSip(15).IceMeltedG, 0.05)
	assert.InDelta(t, 1.5*200/232.4, g.LastSip(15).FinalTDSPct, 0.001)
	// It has all melted after 150·333.4/12 s; then 350 g warm with UA/C = 0.4/(350·4.19) per second.
	gone := 150 * 333.4 / 12 / 60
	assert.Equal(t, AllMelted, g.LastSip(gone+30).Regime)
	assert.InDelta(t, 30*(1-math.Exp(-1800*0.4/(350*4.19))), g.LastSip(gone+30).FinalC, 0.05)
}

func TestNoHeatFromAColderRoom(t *testing.T) {
	t.Parallel()
	g := Glass{Mix: Mix{BeverageG: 200, BeverageC: 30, TDSPct: 1.5, IceG: 20, IceC: -5}, CupUAWPerK: 0.4, RoomC: 10}
	require.Greater(t, g.FirstSip().FinalC, 10.0)
	assert.Equal(t, g.FirstSip(), g.LastSip(30))
	frozen := Glass{Mix: Mix{BeverageG: 200, BeverageC: 0.5, IceG: 300, IceC: -30}, CupUAWPerK: 0.4, RoomC: 30}
	assert.Equal(t, WouldFreeze, frozen.LastSip(30).Regime, "not modelled")
}

func TestNearestRoundsToTheSafeSide(t *testing.T) {
	t.Parallel()
	m := Mix{BeverageG: 850, BeverageC: 72, IceG: 590, IceC: -15}
	n := m.NearestTo(6) // needs 603.0 g
	assert.InDelta(t, 605, n.IceG, 0)
	warmest, ok := m.IceColdEnoughFor(6)
	require.True(t, ok)
	assert.InDelta(t, math.Floor(warmest), n.IceC, 0)
	x := m
	x.IceC = warmest
	need, _ := x.IceFor(6)
	assert.InDelta(t, 590, need, 1e-6, "with ice that cold its mass is just enough")
	small := Mix{BeverageG: 100, BeverageC: 72, IceG: 10, IceC: -15}
	need, _ = small.IceFor(6)
	assert.InDelta(t, math.Ceil(need), small.NearestTo(6).IceG, 0, "to 1 g below 100 g")
	assert.True(t, math.IsNaN(small.NearestTo(6).IceC), "no freezer is cold enough")
	_, ok = small.IceColdEnoughFor(6)
	assert.False(t, ok)
	warm := Mix{BeverageG: 100, BeverageC: 10, IceG: 50, IceC: -5}
	c, ok := warm.IceColdEnoughFor(5)
	require.True(t, ok)
	assert.Zero(t, c, "ice at 0 °C is enough")
}
