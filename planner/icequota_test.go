package planner

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"strings"
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
				used := s.stir[i] + s.bath[i] - s.run.lack[i] + s.serve[i] - s.run.short[i]
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

// Ice for drinks stands in for ice-bath ice where there is enough of it; the plan counts it and says so.
func TestBathIceComesFromTheIceForDrinksWhereThatIsEnough(t *testing.T) {
	t.Parallel()
	r := small()
	with := planOfRequest(t, r)
	assert.Zero(t, with.Ice.BathFromDrinksG, "the ice-bath ice is enough")
	r.Ice.Plain = models.PlainIce{}
	r.Ice.OpeningG = r.Ice.BinG
	r.Ice.Makers = []models.IceMaker{{Code: "cuber", KgPerDayRated: 100, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1}}
	p := planOfRequest(t, r)
	require.NotEmpty(t, p.Batches)
	assert.InDelta(t, p.Ice.BathG, p.Ice.BathFromDrinksG, 1e-6)
	assert.InDelta(t, servedBy(with), servedBy(p), 0.05*servedBy(with), "as much coffee as with ice-bath ice")
	assert.InDelta(t, 0, p.Ice.ShortG, 1, "and no drink without ice")
	w := warningOf(t, p, models.WarnIceShort)
	assert.Equal(t, models.GradeNote, w.Grade)
	assert.Contains(t, w.Fields, "ice.plain")
	assert.InDelta(t, p.Ice.BathG/1000, w.Amount, 1e-6)
	r.Ice.Makers[0].Treated = false
	q := planOfRequest(t, r)
	assert.Zero(t, q.Ice.BathFromDrinksG, "the machine for ice-bath ice gives it")
}

// Without enough of either kind of ice the schedule is smaller, and no bath is planned that has no ice.
func TestIceForBathsLimitsTheBatches(t *testing.T) {
	t.Parallel()
	r := small()
	plenty := planOfRequest(t, r)
	r.Ice.Plain = models.PlainIce{OpeningG: 1500, BinG: 5000}
	r.Ice.OpeningG = plenty.Ice.StirredInG + plenty.Ice.ServedG + 2500
	p := planOfRequest(t, r)
	assert.Less(t, servedBy(p), 0.9*servedBy(plenty))
	assert.LessOrEqual(t, p.Ice.BathG, 1500+p.Ice.BathFromDrinksG+leastBathLackG*float64(len(p.Batches)))
	told := false
	for _, w := range p.Warnings {
		told = told || slices.Contains(w.Fields, "ice.plain.opening_g")
	}
	assert.True(t, told, "the plan says why: %v", kinds(p))
}

func TestABathHasTheIceAndWaterOfTheTrade(t *testing.T) {
	t.Parallel()
	r := small()
	r.Beverages[0].BrewerOutTempC = 60 // little heat: the share of common practice decides
	p := planOfRequest(t, r)
	require.NotEmpty(t, p.Batches)
	for i, b := range p.Batches {
		mass := b.BeverageG - b.IceG
		assert.InDelta(t, math.Ceil(0.75*mass/100)*100, b.BathIceG, 1, "three quarters of the coffee")
		if i == 0 {
			assert.InDelta(t, math.Ceil(mass/1000), b.BathWaterL, 1e-9, "to the level of the coffee")
		} else {
			assert.LessOrEqual(t, b.BathWaterL, max(0, math.Ceil(mass/1000)-p.Batches[0].BathWaterL)+1, "only what is missing")
		}
	}
	r.Beverages[0].Method, r.Beverages[0].IceShare = models.HotChilled, 0
	for _, b := range planOfRequest(t, r).Batches {
		assert.GreaterOrEqual(t, b.BathIceG, b.BeverageG, "as much as coffee")
	}
	kg := 0.4
	r.Ice.BathIcePerKg = &kg
	for _, b := range planOfRequest(t, r).Batches {
		assert.InDelta(t, 0.4*b.BeverageG, b.BathIceG, 100, "as the shop has weighed")
	}
}

// Nobody can see how much a machine has added. Somebody can see how full the ice bin is.
func TestAnIceBinIsLookedIntoForWhatItMustHold(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 10, 16, 0, 0, 0, r.Site.Location())
	r.Ice.OpeningG = 0
	r.Ice.Makers = []models.IceMaker{
		{Code: "left", KgPerDayRated: 15, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1},
		{Code: "right", KgPerDayRated: 15, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1}}
	p := planOfRequest(t, r)
	require.Len(t, p.Ice.Checks, 2, "one bin: when people arrive, and before the peak")
	first := p.Ice.Checks[0]
	assert.Equal(t, []string{"left", "right"}, first.Makers)
	assert.True(t, first.Due.Equal(time.Date(2026, 7, 11, 7, 0, 0, 0, r.Site.Location())), first.Due)
	// What is used later, less what the machines make until then, must be there.
	later := p.Ice.StirredInG + p.Ice.ServedG
	canMake := 30_000 * (1 - 0.015*7 - 0.01*5) / 24 * 11
	assert.Greater(t, first.LevelG, later-canMake-1)
	assert.Less(t, first.LevelG, later)
	r.Ice.Makers = nil
	r.Ice.OpeningG = 40_000
	assert.Empty(t, planOfRequest(t, r).Ice.Checks, "there is no machine that could fail")
}

func TestSmallTraysAreEmptiedTogetherOrAtTheEdgesOfTheDay(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 10, 16, 0, 0, 0, r.Site.Location())
	r.Ice.OpeningG = 8000
	r.Ice.Moulds = []models.MouldSet{{Code: "spheres", LoadG: 400, ThicknessMM: 20, Geometry: "sphere", Sides: 1, LoadsAtOnce: 4, FreezerAirC: -20, HWM2K: 25, FreezerHeatW: 300, Treated: true, MineralShare: 1}}
	loads := func() (all, day int) {
		for _, q := range planOfRequest(t, r).Ice.Quotas {
			for _, l := range q.Loads {
				all++
				if h := l.TakeAt.Hour(); h >= 9 && h < 17 {
					day++
				}
			}
		}
		return all, day
	}
	all, day := loads()
	assert.Positive(t, all)
	assert.Positive(t, day, "1.6 kg together")
	r.Ice.Moulds[0].LoadsAtOnce = 1
	all, day = loads()
	assert.Positive(t, all)
	assert.Zero(t, day, "400 g alone wait for closing")
}

func TestOtherIceAndRemakesRaiseWhatIsUsed(t *testing.T) {
	t.Parallel()
	r := small()
	level := 50.0
	r.ServiceLevelPct = &level
	was := planOfRequest(t, r)
	r.Site.OtherIcePct, r.Site.RemakePct = 15, 4
	is := planOfRequest(t, r)
	assert.InDelta(t, was.Ice.ServedG*1.15*1.04, is.Ice.ServedG, 0.01*was.Ice.ServedG)
	assert.InDelta(t, servedBy(was)*1.04, servedBy(is), 0.02*servedBy(was))
	assert.InDelta(t, was.Demand[0].Prepare, is.Demand[0].Prepare, 0.5, "drinks stay drinks")
}

func TestWellsAreRefilledBeforeTheyAreEmpty(t *testing.T) {
	t.Parallel()
	r := small()
	r.Site.IceWells = []models.IceWell{{Code: "bar", HoldsG: 5000, CarryMin: 5}}
	p := planOfRequest(t, r)
	fills := p.Ice.WellFills
	require.Greater(t, len(fills), 2)
	assert.LessOrEqual(t, len(fills), int(p.Ice.ServedG/2500)+1, "not for a few cubes")
	assert.True(t, fills[0].At.Before(time.Date(2026, 7, 11, 8, 0, 0, 0, r.Site.Location())), "before opening")
	carried := 0.0
	for _, f := range fills {
		carried += f.G
	}
	assert.GreaterOrEqual(t, carried, p.Ice.ServedG-1)
}

func TestBoughtIceIsWholeBagsWithTheirCutOff(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 10, 10, 0, 0, 0, r.Site.Location())
	r.Ice.OpeningG = 3000
	r.Ice.Bought = &models.BoughtIce{BagG: 10_000, OrderBy: "12:00", KeptIn: "chest freezer", BagCost: 600}
	p, err := ComputeWith(context.Background(), r, Options{Budget: 20_000, Days: 100})
	require.NoError(t, err)
	w := warningOf(t, p, models.WarnIceShort)
	k := slices.IndexFunc(w.Fixes, func(f models.Fix) bool { return strings.HasPrefix(f.Action, "Buy ") })
	require.GreaterOrEqual(t, k, 0, "%v", w.Fixes)
	assert.Regexp(t, `^Buy \d bags? of ice \(10.0.kg( each)?\) by (Friday|Saturday) 12:00; keep it in the chest freezer$`, w.Fixes[k].Action)
	var change struct {
		Ice struct {
			OpeningG float64 `json:"opening_g"`
		} `json:"ice"`
	}
	require.NoError(t, json.Unmarshal(w.Fixes[k].Change, &change))
	assert.InDelta(t, 0, math.Mod(change.Ice.OpeningG-3000, 10_000), 1e-6, "whole bags")
	free := r
	free.Ice.Bought = new(*r.Ice.Bought)
	free.Ice.Bought.BagCost = 0
	q, err := ComputeWith(context.Background(), free, Options{Budget: 20_000, Days: 100})
	require.NoError(t, err)
	assert.InDelta(t, 600*(change.Ice.OpeningG-3000)/10_000, w.Fixes[k].Cost-warningOf(t, q, models.WarnIceShort).Fixes[k].Cost, 1e-6, "and the bags cost")
}

// A refill that somebody has marked empties the load before and fills the next.
func TestARefillEmptiesTheTrayAndFillsIt(t *testing.T) {
	t.Parallel()
	r := noon()
	r.Ice.OpeningG = 0
	r.Ice.Moulds = []models.MouldSet{{Code: "bars", LoadG: 3000, ThicknessMM: 30, Geometry: "slab", Sides: 2, LoadsAtOnce: 1, FreezerAirC: -20, HWM2K: 25, FreezerHeatW: 400, Treated: true, MineralShare: 1}}
	code := "bars"
	first := r.Now.Add(-7 * time.Hour)
	r.UnderWay = []models.UnderWay{
		{Task: "a", Kind: models.TaskIceFill, State: models.Made, Start: first, Mould: &code},
		{Task: "b", Kind: models.TaskIceRefill, State: models.Made, Start: r.Now.Add(-time.Hour), Mould: &code},
		{Task: "b", Kind: models.TaskIceTake, State: models.Made, Start: r.Now.Add(-time.Hour), Mould: &code}}
	for _, rows := range []int{2, 3} { // with and without the row that says what came out
		x := r
		x.UnderWay = r.UnderWay[:rows]
		p := planOfRequest(t, x)
		require.NotEmpty(t, p.Ice.Quotas)
		l := p.Ice.Quotas[0].Loads[0]
		assert.True(t, l.FillAt.Equal(r.Now.Add(-time.Hour)), "%d rows: filled at %s", rows, l.FillAt)
	}
}
