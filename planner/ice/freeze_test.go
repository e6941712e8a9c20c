package ice

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/checks/" + name)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []map[string]string
	for _, rec := range all[1:] {
		row := map[string]string{}
		for i, col := range all[0] {
			row[col] = rec[i]
		}
		out = append(out, row)
	}
	require.NotEmpty(t, out)
	return out
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}

func mouldOf(t *testing.T, row map[string]string) Mould {
	t.Helper()
	m := Mould{ThicknessMM: num(t, row["thickness_mm"]), Geometry: Slab, Sides: int(num(t, row["sides"])), WaterC: num(t, row["water_temp_c"]),
		AirC: num(t, row["air_temp_c"]), HWm2K: num(t, row["h_w_m2k"]), MassKg: 1}
	if g := row["geometry"]; g != "" {
		m.Geometry = Geometry(g)
	}
	if c := row["final_temp_c"]; c != "" {
		final := num(t, c)
		m.FinalC = &final
	}
	return m
}

// freeze.csv: third-party finite differences. freeze-grid.csv: our own explicit solver for slab, cylinder and sphere over
// 5–100 mm, h 5–300, air −8…−40 °C, a third of them to a target temperature at the centre. See the README beside them.
func TestFreezingMatchesFiniteDifferences(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		file    string
		allowed float64
	}{{"freeze.csv", 0.05}, {"freeze-grid.csv", 0.10}} {
		worst := 0.0
		for _, row := range rows(t, c.file) {
			want := num(t, row["freeze_min"])
			off := mouldOf(t, row).Freeze().Minutes/want - 1
			if math.Abs(off) > math.Abs(worst) {
				worst = off
			}
			assert.LessOrEqual(t, math.Abs(off), c.allowed, "%s %v", c.file, row)
		}
		t.Logf("%s: largest error %+.2f %%", c.file, 100*worst)
	}
}

// Neumann's solution of the Stefan problem: water at 0 °C, surface at air temperature, front at 2λ√(αt) with
// λ·exp(λ²)·erf(λ) = c·ΔT/(L·√π) (Carslaw & Jaeger 1959, 11.2; from memory).
func TestFreezingWithoutFilmMatchesNeumann(t *testing.T) {
	t.Parallel()
	worst := 0.0
	for _, air := range []float64{-5, -18, -30, -40} {
		for _, mm := range []float64{5, 30, 100} {
			lo, hi := 0.0, 2.0
			for range 100 {
				l := (lo + hi) / 2
				if l*math.Exp(l*l)*math.Erf(l) < iceHeat*-air/(latentJ*math.Sqrt(math.Pi)) {
					lo = l
				} else {
					hi = l
				}
			}
			deep := mm / 1000
			want := deep * deep / (4 * lo * lo * iceConductivity / (density * iceHeat))
			got := Mould{ThicknessMM: mm, Geometry: Slab, Sides: 1, WaterC: 0, AirC: air, HWm2K: 1e7, MassKg: 1}.Freeze().Minutes * 60
			worst = max(worst, math.Abs(got/want-1))
			assert.InEpsilon(t, want, got, 0.01, "%g mm, %g °C", mm, air)
		}
	}
	t.Logf("largest error %.2f %%", 100*worst)
}

// plankSeconds is Plank's freezing time (1941; ASHRAE Handbook Refrigeration, from memory), which neglects sensible heat:
// ρ·L/(T_f − T_a)·(P·a/h + R·a²/k), P, R = ½, ⅛ slab, ¼, 1/16 cylinder, 1/6, 1/24 sphere.
func plankSeconds(m Mould) float64 {
	n := map[Geometry]float64{Slab: 1, Cylinder: 2, Sphere: 3}[m.Geometry]
	a := 2 * m.depth()
	return density * latentJ / -m.AirC * (a/(2*n*m.HWm2K) + a*a/(8*n*iceConductivity))
}

func TestFreezingApproachesPlankWithLittleSensibleHeat(t *testing.T) {
	t.Parallel()
	for _, g := range []Geometry{Slab, Cylinder, Sphere} {
		m := Mould{ThicknessMM: 20, Geometry: g, Sides: 2, WaterC: 0, AirC: -1, HWm2K: 20, MassKg: 1}
		assert.InEpsilon(t, plankSeconds(m), m.Freeze().Minutes*60, 0.01, "%s", g)
	}
}

func TestFreezingIsMonotone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := Mould{
			ThicknessMM: rapid.Float64Range(1, 500).Draw(t, "mm"),
			Geometry:    rapid.SampledFrom([]Geometry{Slab, Cylinder, Sphere}).Draw(t, "shape"),
			Sides:       rapid.IntRange(1, 2).Draw(t, "sides"),
			WaterC:      rapid.Float64Range(0, 100).Draw(t, "water"),
			AirC:        -rapid.Float64Range(0.1, 80).Draw(t, "air"),
			HWm2K:       math.Pow(10, rapid.Float64Range(-1, 9).Draw(t, "h")),
			MassKg:      1,
		}
		base := m.Freeze()
		if !(base.Minutes > 0) || math.IsInf(base.Minutes, 0) || base.MeanIceC > 1e-9 || base.MeanIceC < m.AirC {
			t.Fatalf("%+v gives %+v", m, base)
		}
		// The time-stepped solution is monotone within its error, which grows as the air nears 0 °C: of 20,000 random moulds
		// the worst was off by 0.3 % in air below −0.6 °C and by 0.8 % above.
		slack := 0.005
		if m.AirC > -1 {
			slack = 0.01
		}
		colder, warmer, thinner := m, m, m
		colder.AirC *= 1.2
		warmer.WaterC += 10
		thinner.ThicknessMM *= 0.9
		if x := colder.Freeze().Minutes; x > base.Minutes*(1+slack) {
			t.Fatalf("colder air takes longer: %g min, was %g min", x, base.Minutes)
		}
		if x := warmer.Freeze().Minutes; x < base.Minutes*(1-slack) {
			t.Fatalf("warmer water is faster: %g min, was %g min", x, base.Minutes)
		}
		if x := thinner.Freeze().Minutes; x > base.Minutes*(1+slack) {
			t.Fatalf("a thinner mould takes longer: %g min, was %g min", x, base.Minutes)
		}
		final := m.AirC * rapid.Float64Range(0, 0.999).Draw(t, "final")
		cold := m
		cold.FinalC = &final
		if x := cold.Freeze().Minutes; x < base.Minutes*(1-slack) || math.IsInf(x, 0) {
			t.Fatalf("%g min to reach %g °C, %g min to freeze through", x, final, base.Minutes)
		}
	})
}

func TestSlabCooledOnOneFaceFreezesLikeOneOfTwiceTheThickness(t *testing.T) {
	t.Parallel()
	one := Mould{ThicknessMM: 20, Geometry: Slab, Sides: 1, WaterC: 15, AirC: -18, HWm2K: 10, MassKg: 1}
	two := one
	two.ThicknessMM, two.Sides = 40, 2
	assert.InEpsilon(t, two.Freeze().Minutes, one.Freeze().Minutes, 1e-12)
}

func TestWeakFreezerLimitsTheTime(t *testing.T) {
	t.Parallel()
	m := Mould{ThicknessMM: 30, Geometry: Slab, Sides: 2, WaterC: 15, AirC: -18, HWm2K: 30, MassKg: 8, FreezerHeatW: 100}
	f := m.Freeze()
	// 8 kg · (63.08 + 333.36) kJ/kg / 100 W
	assert.Equal(t, ByCoolingPower, f.Limit)
	assert.InDelta(t, 8*396.437/0.1/60, f.PowerMin, 0.1)
	assert.InDelta(t, f.PowerMin, f.Minutes, 1e-9)
	assert.InDelta(t, 8*1440/f.PowerMin, f.KgPerDay, 1e-9)
	m.FreezerHeatW = 2000
	assert.Equal(t, BySurface, m.Freeze().Limit)
}

func BenchmarkFreeze(b *testing.B) {
	m := Mould{ThicknessMM: 40, Geometry: Slab, Sides: 2, WaterC: 15, AirC: -20, HWm2K: 15, MassKg: 1}
	for b.Loop() {
		m.Freeze()
	}
}

func TestFreezingOfALoad(t *testing.T) {
	t.Parallel()
	m := Mould{ThicknessMM: 30, Geometry: Cylinder, WaterC: 20, AirC: -20, HWm2K: 20, MassKg: 2}
	f := m.Freeze()
	assert.Equal(t, BySurface, f.Limit)
	assert.InDelta(t, f.SurfaceMin, f.Minutes, 0)
	assert.Zero(t, f.PowerMin, "unknown cooling power")
	assert.InDelta(t, 2*1440/f.Minutes, f.KgPerDay, 1e-9)
	assert.InDelta(t, 84.01+333.36, f.EnergyKJPerKg, 0.02, "IAPWS: water at 20 °C, ice at 0 °C")
	final := -10.0
	m.FinalC = &final
	cold := m.Freeze()
	assert.InDelta(t, 84.01+353.96, cold.EnergyKJPerKg, 0.02, "ice at −10 °C")
	assert.Greater(t, cold.Minutes, f.Minutes)
	assert.Less(t, cold.MeanIceC, -10.0, "the centre is the warmest")
	assert.Greater(t, cold.MeanIceC, -20.0)
	assert.Less(t, f.MeanIceC, 0.0)
	assert.Greater(t, f.MeanIceC, cold.MeanIceC)
}
