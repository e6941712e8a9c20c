package planner

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

// What the quotas ask for is enough: with no gram more than that, nothing is short that was not short anyway. And it is late:
// no slot makes what a later one could have made in time.
func TestQuotasAreEnoughAndNoEarlierThanTheyMust(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t)
		require.NoError(t, r.Validate())
		res, err := compute(context.Background(), &r, Options{WithoutFixes: true, Budget: 1500, Days: 20})
		require.NoError(t, err)
		for _, s := range []*iceStream{res.drink, res.plain} {
			required, can := s.requirement(), s.makeable()
			level, slack := s.opening, make([]float64, s.slots)
			for i := range s.slots {
				used := s.stir[i] - s.run.lack[i] + s.serve[i] - s.run.short[i]
				level = level*s.keep + s.run.taken[i] + required[i] - used
				require.GreaterOrEqual(t, level, -1e-6, "slot %d is short by the quotas alone", i)
				require.LessOrEqual(t, required[i], can[i]+1e-9)
				level = min(level, s.capacity)
				slack[i] = level
			}
			// Put off a gram of slot i to the next slot with room: only a level that reaches 0 between may forbid it.
			for i := range s.slots {
				if required[i] < 1 {
					continue
				}
				for k := i + 1; k < s.slots; k++ {
					if slack[k-1] < 1e-6 {
						break // without it the slot before would be short
					}
					require.False(t, can[k]-required[k] > 1 && lowest(slack[i:k]) > 1, "slot %d makes what slot %d could", i, k)
				}
			}
		}
	})
}

func lowest(xs []float64) float64 {
	m := math.Inf(1)
	for _, x := range xs {
		m = min(m, x)
	}
	return m
}

func TestOvernightMakingBeforeAHotDayIsAskedFor(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 10, 19, 0, 0, 0, r.Site.Location())
	r.Ice.OpeningG = 0
	r.Ice.Makers = []models.IceMaker{{Code: "cuber", KgPerDayRated: 30, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1}}
	p := planOfRequest(t, r)
	need := p.Ice.StirredInG + p.Ice.ServedG
	require.Greater(t, need, 15_000.0)
	assert.InDelta(t, 0, p.Ice.ShortG, 1)
	first := p.Ice.Quotas[0]
	assert.Equal(t, "am", first.DayPart)
	sum := 0.0
	for _, q := range p.Ice.Quotas {
		assert.Equal(t, "cuber", q.Maker)
		sum += q.MakeG
	}
	assert.InDelta(t, need+p.Ice.MeltedG, sum, 0.02*need, "the quotas add up to what is used and melts")
	dayOutput := 30_000 * (1 - 0.015*7 - 0.01*5) / 24 * 10 // in the ten hours of opening
	assert.Greater(t, sum, dayOutput, "the day alone would not do")
}

// Ice is cheap and nothing is served without it: forms are filled for a day that is worse than the level of the plan, not for
// nothing.
func TestMouldsAreAskedForWholeLoadsEnoughForABadDay(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 10, 19, 0, 0, 0, r.Site.Location())
	r.Ice.Moulds = []models.MouldSet{{Code: "bars", LoadG: 4000, ThicknessMM: 30, Geometry: "slab", Sides: 2, LoadsAtOnce: 3, FreezerAirC: -20, HWM2K: 25, FreezerHeatW: 900, Treated: true, MineralShare: 1}}
	plenty := planOfRequest(t, r)
	assert.Empty(t, plenty.Ice.Quotas, "what is in the bin is enough: nobody fills moulds for nothing")
	r.Ice.OpeningG = 10_000
	p := planOfRequest(t, r)
	assert.InDelta(t, 0, p.Ice.ShortG, 1)
	loads := 0
	for _, q := range p.Ice.Quotas {
		for _, l := range q.Loads {
			loads++
			assert.InDelta(t, 4000, l.G, 1e-9)
		}
	}
	lacking := p.Ice.StirredInG + p.Ice.ServedG + p.Ice.MeltedG - 10_000
	assert.GreaterOrEqual(t, loads, int(math.Ceil(lacking/4000)))
	assert.LessOrEqual(t, 4000*float64(loads), 1.35*(p.Ice.StirredInG+p.Ice.ServedG)+p.Ice.MeltedG-10_000+4000, "a third more than the level of the plan at most")
}

// Ice enough for the planned level alone still gets tray loads: a bad day uses more, and no drink is served without ice.
func TestTraysAreFilledForABadDayAlthoughThePlannedOneHasEnough(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 10, 19, 0, 0, 0, r.Site.Location())
	r.Ice.BinG = 60_000
	r.Ice.OpeningG = 60_000
	used := planOfRequest(t, r).Ice
	r.Ice.OpeningG = used.StirredInG + used.ServedG + used.MeltedG + 300
	without := planOfRequest(t, r)
	require.InDelta(t, 0, without.Ice.ShortG, 1, "the planned day has enough")
	r.Ice.Moulds = []models.MouldSet{{Code: "bars", LoadG: 2000, ThicknessMM: 30, Geometry: "slab", Sides: 2, LoadsAtOnce: 3, FreezerAirC: -20, HWM2K: 25, FreezerHeatW: 900, Treated: true, MineralShare: 1}}
	with := planOfRequest(t, r)
	loads := 0
	for _, q := range with.Ice.Quotas {
		loads += len(q.Loads)
	}
	assert.Positive(t, loads, "trays are filled ahead for a bad day")
	chance := func(p models.Plan) (pct float64) {
		for _, w := range p.Warnings {
			if w.Kind == models.WarnIceShort {
				pct = max(pct, w.ChancePct)
			}
		}
		return pct
	}
	assert.Less(t, chance(with), max(chance(without), 10), "so that running out is less likely")
}

func TestBathIceComesFromThePlainStreamAlone(t *testing.T) {
	t.Parallel()
	r := small()
	r.Ice.Plain = models.PlainIce{}
	r.Ice.Makers = []models.IceMaker{{Code: "treated", KgPerDayRated: 100, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1}}
	p := planOfRequest(t, r)
	w := warningOf(t, p, models.WarnIceShort)
	assert.Contains(t, w.Fields, "ice.plain")
	assert.InDelta(t, p.Ice.BathG/1000, w.Amount, 1e-6, "no treated ice goes into baths")
	assert.NotEmpty(t, p.Batches, "the batches stay planned")
	r.Ice.Makers[0].Treated = false
	q := planOfRequest(t, r)
	for _, w := range q.Warnings {
		assert.NotContains(t, w.Fields, "ice.plain.opening_g", "the untreated maker gives it: %s", w.Cause)
	}
}
