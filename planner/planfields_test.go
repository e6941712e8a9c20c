package planner

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestABatchNamesItsTimesAndItsBathIce(t *testing.T) {
	t.Parallel()
	r := small()
	perKg := 1.5
	r.Ice.BathIcePerKg = &perKg
	r.Site.MaxHoldH = 6 // less than the beverage's own 8
	p := planOfRequest(t, r)
	require.NotEmpty(t, p.Batches)
	for _, b := range p.Batches {
		assert.Greater(t, b.LevelPct, 0.0)
		assert.LessOrEqual(t, b.LevelPct, 100.0)
		assert.Equal(t, b.Ready.Add(6*time.Hour), b.UseBy, "the site's limit is the shorter one")
		assert.False(t, b.IceAt.Before(b.Start) || b.IceAt.After(b.Ready), "ice at %s", b.IceAt)
		assert.InDelta(t, 1.5*(b.BeverageG-b.IceG), b.BathIceG, 100, "1.5 kg per kg of hot brew, to 100 g")
	}

	r.Beverages[0].Method, r.Beverages[0].IceShare = models.HotChilled, 0
	p = planOfRequest(t, r)
	require.NotEmpty(t, p.Batches)
	for _, b := range p.Batches {
		assert.Zero(t, b.IceG)
		assert.True(t, b.IceAt.IsZero(), "no ice goes in")
	}
}

func TestBatchesShareTheLotsOfTheirBeans(t *testing.T) {
	t.Parallel()
	r := small()
	r.Coffees[0].GrinderLossPct = 10
	r.Coffees[0].Lots = []models.BeanLot{{Code: "D1", RoastedOn: "2026-06-20", Grams: 700, Place: "shelf"}, {Code: "D2", RoastedOn: "2026-06-25", Grams: 8000, Place: "shelf"}}
	p := planOfRequest(t, r)
	require.Greater(t, len(p.Batches), 1)
	used := map[string]float64{}
	for _, b := range p.Batches {
		g := 0.0
		for _, l := range b.Lots {
			g += l.G
			used[l.Lot] += l.G
		}
		assert.InDelta(t, b.DoseG/0.9, g, 0.1, "the dose and what stays in the grinder")
	}
	assert.InDelta(t, 700, used["D1"], 0.1, "the older lot is used up, once")
	assert.Greater(t, used["D2"], 0.0)
}

func TestBeansTakenOutOfTheFreezerLieOnTheShelf(t *testing.T) {
	t.Parallel()
	r := small()
	frozen := models.Date("2026-07-05")
	r.Coffees[0].Lots = []models.BeanLot{{Code: "D1", RoastedOn: "2026-06-25", Grams: 8000, Place: "freezer", FrozenOn: &frozen}}
	lot, otherLot, coffee, otherCoffee, g := "D1", "D9", "dune", "ridge", 3000.0
	pull := func(lot, coffee *string, g *float64) models.UnderWay {
		return models.UnderWay{Kind: models.TaskPull, State: models.Made, Start: r.Now, Lot: lot, Coffee: coffee, G: g}
	}
	for name, tc := range map[string]struct {
		done  []models.UnderWay
		shelf float64
	}{
		"nothing":                 {nil, 0},
		"three kilograms":         {[]models.UnderWay{pull(&lot, &coffee, &g)}, 3000},
		"in two goes":             {[]models.UnderWay{pull(&lot, &coffee, &g), pull(&lot, nil, &g)}, 6000},
		"more than there is":      {[]models.UnderWay{pull(&lot, nil, &g), pull(&lot, nil, &g), pull(&lot, nil, &g)}, 8000},
		"another lot":             {[]models.UnderWay{pull(&otherLot, &coffee, &g)}, 0},
		"another coffee":          {[]models.UnderWay{pull(&lot, &otherCoffee, &g)}, 0},
		"of unknown size":         {[]models.UnderWay{pull(&lot, &coffee, nil)}, 0},
		"a lot that isn't stated": {[]models.UnderWay{pull(nil, &coffee, &g)}, 0},
	} {
		r := r
		r.UnderWay = tc.done
		shelf, freezer := 0.0, 0.0
		for _, l := range newSetting(&r, Options{}).lots(&r.Coffees[0]) {
			if l.Freezer {
				freezer += l.Grams
			} else {
				shelf += l.Grams
			}
		}
		assert.InDelta(t, tc.shelf, shelf, 1e-9, name)
		assert.InDelta(t, 8000-tc.shelf, freezer, 1e-9, name)
	}
}

func TestADiscardDoneIsNotABatch(t *testing.T) {
	t.Parallel()
	r := noon()
	g := 4000.0
	r.UnderWay = []models.UnderWay{{Task: "task-9", Kind: models.TaskDiscard, State: models.Made, Start: r.Now.Add(-time.Hour), Beverage: &r.Beverages[0].Code, BeverageG: &g}}
	p := planOfRequest(t, r)
	for _, b := range p.Batches {
		assert.Equal(t, models.Due, b.State)
	}
	assert.Zero(t, p.Stock[0].G, "poured away, not made")
}

func TestTheSummaryCountsWhatIsStillToDo(t *testing.T) {
	t.Parallel()
	p := planOfRequest(t, noon())
	n, g := 0, 0.0
	for _, b := range p.Batches {
		if b.State == models.Due {
			n++
			g += b.BeverageG
		}
	}
	require.Less(t, n, len(p.Batches), "one is under way")
	assert.Equal(t, n, p.Summary.Batches)
	assert.InDelta(t, g, p.Summary.BeverageG, 1e-6)

	p = planOfRequest(t, small())
	assert.InDelta(t, 80, p.Summary.Servings, 1e-6)
	assert.Contains(t, p.Summary.Text, " 80 ", "whole servings")
	assert.Contains(t, strings.ToLower(p.Summary.Text), "bath", "ice for baths apart from ice for drinks")
}

func TestACaffeineRichServingIsCautioned(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		doseG float64
		want  bool
	}{{5, false}, {40, true}} {
		r := small()
		r.Drinks[0].Doses = []models.Dose{{Coffee: "dune", DoseG: tc.doseG}}
		p := planOfRequest(t, r)
		if tc.want {
			assert.Contains(t, p.CautionCodes, models.CautionCaffeine)
		} else {
			assert.NotContains(t, p.CautionCodes, models.CautionCaffeine)
		}
	}
}

func TestHoursWithoutWeatherTakeTheHottestOfTheirTimeOfDay(t *testing.T) {
	t.Parallel()
	r := small()
	first := r.Now.Truncate(time.Hour)
	r.Weather = []models.WeatherHour{{At: first.Add(25 * time.Hour), TempC: 24}, {At: first, TempC: 20}, {At: first.Add(49 * time.Hour), TempC: 31}, {At: first.Add(2 * time.Hour), TempC: 22}}
	st := newSetting(&r, Options{})
	air, forecast, gaps := airBySlot(st)
	at := func(h float64) float64 { return air[st.h.slotOf(first.Add(models.Hours(h)))] }
	assert.InDelta(t, 20, at(0), 0)
	assert.InDelta(t, 20, at(0.75), 0, "to the end of its hour")
	assert.InDelta(t, 31, at(1), 0, "the hottest at that time on any day")
	assert.InDelta(t, 22, at(2), 0)
	assert.InDelta(t, models.UnknownHottestC, at(3), 0, "no weather at that time of day")
	assert.InDelta(t, models.UnknownHottestC, at(4.5), 0)
	assert.True(t, forecast[st.h.slotOf(first)])
	assert.False(t, forecast[st.h.slotOf(first.Add(time.Hour))], "assumed, not forecast")
	hours := int(st.h.at(st.h.n).Sub(st.h.start).Hours())
	assert.Equal(t, hours-2, gaps, "all hours but two")
}

// The safe assumption is for ice alone: nobody is told that it is the forecast.
func TestAPlanSaysHowOldItsForecastIsOrThatThereIsNone(t *testing.T) {
	t.Parallel()
	r := small()
	r.Weather, r.WeatherIssuedAt = nil, nil
	r.Ice.OpeningG = 0 // so that the ice machines are written about
	p := planOfRequest(t, r)
	assert.Nil(t, p.Summary.WarmestC)
	assert.Nil(t, p.WeatherAgeH)
	assert.Contains(t, p.Summary.Text, "weather unknown")
	doc, err := json.Marshal(p)
	require.NoError(t, err)
	assert.NotContains(t, string(doc), "35\u202f°C")

	r.WeatherIssuedAt = new(r.Now.Add(-3*time.Hour - 10*time.Minute))
	for h := range 72 {
		r.Weather = append(r.Weather, models.WeatherHour{At: r.Now.Truncate(time.Hour).Add(time.Duration(h) * time.Hour), TempC: 31})
	}
	p = planOfRequest(t, r)
	require.NotNil(t, p.Summary.WarmestC)
	assert.InDelta(t, 31, *p.Summary.WarmestC, 0)
	assert.InDelta(t, 3+1.0/6, *p.WeatherAgeH, 1e-9)
	assert.Equal(t, r.WeatherIssuedAt, p.WeatherIssuedAt)
	assert.Contains(t, p.Summary.Text, "Weather forecast 3\u202fh old.")
}

func TestAnOutageTakesItsShareOfASlot(t *testing.T) {
	t.Parallel()
	r := small()
	h := newSetting(&r, Options{}).h
	span := func(from, to float64) models.Span {
		return models.Span{From: h.start.Add(models.Minutes(from)), To: h.start.Add(models.Minutes(to))}
	}
	out := []models.Span{span(0, 5), span(7, 10), span(30, 60)}
	for slot, want := range []float64{8.0 / 15, 0, 1, 1, 0} {
		assert.InDelta(t, want, h.sharedPart(out, slot), 1e-9, "slot %d", slot)
	}
}

func TestUrgencyFollowsTimeAndChance(t *testing.T) {
	t.Parallel()
	r := small()
	st := newSetting(&r, Options{})
	for _, tc := range []struct {
		hours, chance float64
		want          string
	}{
		{1, 19.9, models.GradeNote}, {1, 20, models.GradeActNow}, {2.99, 90, models.GradeActNow}, {3, 90, models.GradeActToday}, {35.9, 20, models.GradeActToday},
		{36, 20, models.GradeNote}, {36, 59.9, models.GradeNote}, {36, 60, models.GradeActToday},
	} {
		assert.Equal(t, tc.want, st.urgency(st.h.start.Add(models.Hours(tc.hours)), tc.chance), "%g h ahead, %g %%", tc.hours, tc.chance)
	}
}

func TestLessIcePerServingIsAFixForTooLittleIce(t *testing.T) {
	t.Parallel()
	r := small()
	r.Ice.OpeningG = 9000
	r.Beverages[0].Method, r.Beverages[0].IceShare, r.Beverages[0].CoolingUAWPerK = models.HotChilled, 0, new(60.0)
	p, err := ComputeWith(context.Background(), r, Options{Budget: 10_000, Days: 100})
	require.NoError(t, err)
	found := false
	for _, w := range p.Warnings {
		for _, way := range w.Fixes {
			if got := patched(t, r, way.Change).Drinks[0].ServingIceG; got != 140 {
				found = true
				assert.InDelta(t, 119, got, 1e-9, "15 %% less than 140 g: %s", way.Action)
			}
		}
	}
	assert.True(t, found)
}

func TestATraySetHasOneQuotaPerDayPart(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 10, 6, 0, 0, 0, r.Site.Location())
	r.Ice.OpeningG = 0
	r.Ice.Moulds = []models.MouldSet{{Code: "trays", Treated: true, LoadG: 4000, ThicknessMM: 25, Geometry: "slab", FreezerAirC: -22, HWM2K: 25, FreezerHeatW: 600, Sides: 2, LoadsAtOnce: 1}}
	p := planOfRequest(t, r)
	seen := map[string]bool{}
	loads := 0
	for _, q := range p.Ice.Quotas {
		key := string(q.Date) + q.DayPart + q.Maker
		assert.False(t, seen[key], "%s %s %s twice", q.Date, q.DayPart, q.Maker)
		seen[key] = true
		g := 0.0
		for i, l := range q.Loads {
			loads++
			g += l.G
			assert.True(t, l.TakeAt.After(l.FillAt))
			assert.False(t, i > 0 && l.TakeAt.Before(q.Loads[i-1].TakeAt), "in order of time")
			assert.False(t, q.Due.After(q.Loads[len(q.Loads)-1].TakeAt))
		}
		assert.InDelta(t, g, q.MakeG, 1e-6)
	}
	assert.Greater(t, loads, len(p.Ice.Quotas), "some part takes out more than one load")
}
