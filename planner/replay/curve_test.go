package replay

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// A toy shop that sells 20 glasses a day for four weeks and 30 on each of the next days: half as much again is exactly right, and what is
// above it is poured away.
func TestTheBestCushionIsFoundInHindsight(t *testing.T) {
	t.Parallel()
	s := toySeason(30, func(i int) float64 {
		if i >= 28 {
			return 30
		}
		return 20
	})
	r := run(t, s, Options{From: s.Days[28].Date, Days: 1, Cushions: []float64{1, 1.25, 1.5, 1.75}})
	require.Equal(t, []Policy{{Method: Par, Setting: 1.25}, {Method: Par, Setting: 1.5}, {Method: Par, Setting: 1.75}}, r.Points, "1 is the par sheet as it is")
	require.Equal(t, Policy{Method: Par, Setting: 1.5}, r.BestPar())
	d := &r.Days[0]
	require.InDelta(t, 10, d.Figures[Par].Missed, 0.01)
	require.InDelta(t, 5, d.Points[0].Missed, 0.01)
	require.InDelta(t, 0, d.Points[1].Missed, 0.01)
	require.InDelta(t, toyBatch, r.ofDay(0, r.BestPar()).Cost(), toyGlass/200)

	var b bytes.Buffer
	require.NoError(t, WriteText(&b, &r))
	require.Regexp(t, `(?m)^  par × 1\.5 +1\.50 `, b.String(), "a row in each span")
	require.Contains(t, b.String(), "than the best par sheet (× 1.5)")
	require.Regexp(t, `(?s)poured away against drinks missed.*par sheet .*par × 1\.25 .*par × 1\.75 `, b.String())
	b.Reset()
	require.NoError(t, WriteCSV(&b, &r))
	require.Contains(t, b.String(), ",par sheet × 1.25,")
	b.Reset()
	require.NoError(t, WriteSVG(&b, &r))
	require.Contains(t, b.String(), "par × 1.5, dashed")
}

// More is prepared at a higher level, so more is poured away and less is missed.
func TestThePlansCurveRisesWithItsLevel(t *testing.T) {
	t.Parallel()
	s := shopSeason(t, 42)
	r := run(t, s, Options{Budget: 40_000, Days: 3, ServiceLevels: []float64{20, 70, 97}})
	var poured, missed []float64
	for _, p := range r.Curve() {
		if p.Method == Plan && p.Setting > 0 {
			poured, missed = append(poured, p.Figures.PouredG), append(missed, p.Figures.Missed)
		}
	}
	require.Len(t, poured, 3)
	require.IsIncreasing(t, poured)
	require.IsDecreasing(t, missed)
}

func TestTheCurveIsDrawnWithEveryPolicy(t *testing.T) {
	t.Parallel()
	r := exampleResult()
	r.Points = []Policy{{Method: Par, Setting: 1.2}, {Method: Par, Setting: 1.5}, {Method: Plan, Setting: 80}, {Method: Plan, Setting: 97}, {Method: Plan, Change: &Change{Kind: models.AdviceBath}}}
	for i := range r.Days {
		d := &r.Days[i]
		d.Points = make([]Figures, len(r.Points))
		if d.Open {
			for k := range d.Points {
				d.Points[k] = d.Figures[Plan]
				d.Points[k].PouredG, d.Points[k].Missed = 400*float64(k+1), 4-float64(k)
			}
		}
	}
	var pic bytes.Buffer
	require.NoError(t, WriteCurveSVG(&pic, &r))
	dec := xml.NewDecoder(bytes.NewReader(pic.Bytes()))
	for {
		if _, err := dec.Token(); errors.Is(err, io.EOF) {
			break
		} else {
			require.NoError(t, err)
		}
	}
	for _, want := range []string{">plan<", ">par sheet<", ">perfect foresight<", "par × 1.2", "plan at 80%: ", "kg poured away", "drinks missed"} {
		require.Contains(t, pic.String(), want)
	}
	require.NotContains(t, pic.String(), "NaN")
	require.NotContains(t, pic.String(), models.AdviceBath, "a changed shop has no point on this shop's curve")
	require.Equal(t, 3+4, strings.Count(pic.String(), `class="dot`)+strings.Count(pic.String(), `class="best"`)+strings.Count(pic.String(), `class="as-is"`)+strings.Count(pic.String(), `class="perfect"`))
	require.NoError(t, WriteCurveSVG(&pic, &Result{}))
}

// exampleSavings is a result whose plan costs 100 a day more than in a changed shop, give or take.
func exampleSavings(days int, spread float64) Result {
	r := Result{Points: []Policy{{Method: Par, Setting: 1.2}, {Method: Plan, Change: &Change{Kind: models.AdviceIceBin, Was: 24, Amount: 12}}}}
	for i := range days {
		d := DayResult{Date: models.Date("2026-07-01").AddDays(i), Open: true, Points: make([]Figures, 2)}
		d.Figures[Plan].Lost = 1000
		d.Points[1].Lost = 900 + spread*float64(i%3-1)
		r.Days = append(r.Days, d)
	}
	return r
}

func TestASavingIsClearOnlyWithEnoughAndLikeDays(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		days   int
		spread float64
		clear  bool
	}{{15, 60, true}, {15, 600, false}, {6, 60, false}, {3, 0, false}} {
		r := exampleSavings(c.days, c.spread)
		got := r.Savings()
		require.Len(t, got, 1, "cushions are no changes")
		x := got[0]
		require.Equal(t, c.clear, x.Clear, fmt.Sprint(c))
		require.Equal(t, c.days, x.Of)
		require.InDelta(t, 100*float64(c.days), x.Money, 1e-6)
		require.LessOrEqual(t, x.Low, x.Money)
		require.GreaterOrEqual(t, x.High, x.Money)
	}
	// Independent days: half the 80 % interval of 15 sums is t(14, 0.9) × √15 × the deviation of a day.
	r := exampleSavings(15, 60)
	x := r.Savings()[0]
	require.InDelta(t, 1.345*3.873*50.71, x.High-x.Money, 1, "neighbours are not alike, so they add nothing")

	r = exampleSavings(15, 0)
	for i := range r.Days {
		r.Days[i].Points[1].Lost = 999 // for sure, and not worth a word
	}
	require.False(t, r.Savings()[0].Clear)
}

// A bin too small for a hot day is what a larger one saves; a bath that is never short saves nothing.
func TestALargerIceBinSavesWhereTheIceRunsOut(t *testing.T) {
	t.Parallel()
	s := toySeason(44, func(i int) float64 { return 60 + float64(i%3) })
	s.Drinks[0].ServingIceG = 150
	s.Ice.BinG, s.Ice.OpeningG = 4000, 4000
	s.Ice.Makers = []models.IceMaker{{Code: "machine", KgPerDayRated: 12, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1}}
	s.Site.Baths = new(3)
	s.Site.MaxHoldH = 7
	changes := ChangesToTry(&s.Setup)
	var kinds []string
	for _, c := range changes {
		kinds = append(kinds, c.Kind)
	}
	require.Equal(t, []string{models.AdviceBath, models.AdviceIceBin}, kinds, "six hours of hold are all but the seven that the shop allows")
	r := run(t, s, Options{Budget: 20_000, Days: 9, Changes: changes})
	bath, bin := r.Savings()[0], r.Savings()[1]
	require.False(t, bath.Clear)
	require.True(t, bin.Clear)
	require.InDelta(t, 2, bin.Amount, 1e-9, "half as large again, in kg")
	require.InEpsilon(t, 9*13*toyGlass, bin.Money, 0.3, "2 kg are 13 glasses a day")
	require.InDelta(t, 4000, s.Ice.BinG, 1e-9, "the shop itself is as it was")
	require.Equal(t, 3, *s.Site.Baths)
}

func TestTwoMoreHoursAreOfferedWithinTheFoodRules(t *testing.T) {
	t.Parallel()
	s := toySeason(1, func(int) float64 { return 1 })
	hold := func() []float64 {
		for _, c := range ChangesToTry(&s.Setup) {
			if c.Kind == models.AdviceHold {
				changed := c.Apply(s.Setup)
				return []float64{c.Was, changed.Beverages[0].HoldH, s.Beverages[0].HoldH}
			}
		}
		return nil
	}
	require.Equal(t, []float64{6, 8, 6}, hold())
	s.Site.MaxHoldH = 7
	require.Nil(t, hold(), "the shop's own limit")
	s.Site.MaxHoldH = 24
	s.Site.FoodLimits = &models.FoodLimits{HotBrewedHoldH: new(7.0)}
	require.Nil(t, hold())
	s.Site.FoodLimits = nil
	s.Beverages[0].Method = models.Steeped
	require.Nil(t, hold(), "two hours are nothing to cold brew")
}
