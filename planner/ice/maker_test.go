package ice

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestRatedOutputFallsByTheDefaultSlopes(t *testing.T) {
	t.Parallel()
	m := Maker{KgPerDayRated: 100, RatedAirC: 21, RatedWaterC: 10}
	assert.InDelta(t, 100, m.KgPerDay(21, 10), 1e-9)
	assert.InDelta(t, 100*(1-0.015*14-0.01*10), m.KgPerDay(35, 20), 1e-9)
	assert.Zero(t, m.KgPerDay(95, 30), "never negative")
	// AHRI 810 rates at 90 °F air and 70 °F water (from memory): quoted at 70 °F and 50 °F the same machine looks a quarter larger.
	ahri := Maker{KgPerDayRated: 100, RatedAirC: 32.2, RatedWaterC: 21.1}
	assert.InDelta(t, 100*(1+0.015*11.1+0.01*11.1), ahri.KgPerDay(21.1, 10), 0.1)
}

func TestCurveIsInterpolatedBilinearly(t *testing.T) {
	t.Parallel()
	m := Maker{Curve: []Point{{32, 21, 80}, {21, 10, 110}, {32, 10, 95}, {21, 21, 96}}}
	for _, p := range m.Curve {
		assert.InDelta(t, p.KgPerDay, m.KgPerDay(p.AirC, p.WaterC), 1e-9)
	}
	assert.InDelta(t, (80+110+95+96)/4.0, m.KgPerDay(26.5, 15.5), 1e-9)
	assert.InDelta(t, 80-16.0/11*3, m.KgPerDay(35, 21), 1e-9, "keeps falling above the curve")
	assert.InDelta(t, 110, m.KgPerDay(10, 5), 1e-9, "does not rise below the curve")
	one := Maker{Curve: []Point{{25, 15, 60}}}
	assert.InDelta(t, 60*(1-0.015*10)*(1-0.01*5), one.KgPerDay(35, 20), 1e-9)
}

func TestHotterNeverMakesMoreIce(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := Maker{KgPerDayRated: rapid.Float64Range(0, 500).Draw(t, "rated"), RatedAirC: 21, RatedWaterC: 10}
		if rapid.Bool().Draw(t, "curve") {
			base := m.KgPerDayRated
			m.Curve = []Point{{10, 5, base}, {20, 5, base * 0.95}, {40, 5, base * 0.7}, {10, 25, base * 0.8}, {40, 25, base * 0.5}}
		}
		air, water := rapid.Float64Range(-10, 60).Draw(t, "air"), rapid.Float64Range(0, 50).Draw(t, "water")
		now := m.KgPerDay(air, water)
		if now < 0 || m.KgPerDay(air+3, water) > now+1e-9 || m.KgPerDay(air, water+3) > now+1e-9 {
			t.Fatalf("%g kg at %g and %g °C", now, air, water)
		}
	})
}

func TestBinMelting(t *testing.T) {
	t.Parallel()
	// 2 W/K · 30 °C · 3600 s / 333.4 J/g
	assert.InDelta(t, 2*30*3600/333.4, MeltG(10000, 2, 30, 1), 1e-9)
	assert.InDelta(t, 500, MeltG(500, 2, 30, 10), 0, "at most all of it")
	assert.Zero(t, MeltG(500, 2, -5, 10), "freezing air melts nothing")
}

func BenchmarkKgPerDay(b *testing.B) {
	m := Maker{Curve: []Point{{32, 21, 80}, {21, 10, 110}, {32, 10, 95}, {21, 21, 96}}}
	for b.Loop() {
		m.KgPerDay(35, 20)
	}
}

func TestCurveWithOnePointPerAxis(t *testing.T) {
	t.Parallel()
	// Two points at one water temperature: warmer water falls by the default slope.
	line := Maker{Curve: []Point{{20, 15, 100}, {30, 15, 80}}}
	assert.InDelta(t, 90, line.KgPerDay(25, 15), 1e-9)
	assert.InDelta(t, 90*(1-0.01*5), line.KgPerDay(25, 20), 1e-9)
	assert.InDelta(t, 60, line.KgPerDay(40, 15), 1e-9)
	assert.Zero(t, line.KgPerDay(90, 15))
	// A point measured twice.
	twice := Maker{Curve: []Point{{25, 15, 60}, {25, 15, 60}}}
	assert.InDelta(t, 60, twice.KgPerDay(30, 15), 1e-9)
	// Output that rises with temperature is not extrapolated upwards.
	rising := Maker{Curve: []Point{{20, 15, 80}, {30, 15, 100}}}
	assert.InDelta(t, 100, rising.KgPerDay(40, 15), 1e-9)
}
