package replay

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/ice"
	"hotday/planner/learnt"
	"hotday/planner/risk"
)

// finishedPerDose is the finished beverage of a recipe, g per g dose.
func finishedPerDose(b *models.Beverage) float64 {
	return brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}.FinishedPerDose()
}

// pourOut makes the batches of a sheet weigh what really comes out of the dose that the stated set-up has for them.
func (w *weekend) pourOut(sh *sheet, stated *models.Setup) {
	for i := range sh.batches {
		b := &sh.batches[i]
		b.g *= finishedPerDose(&w.season.Beverages[b.bev]) / finishedPerDose(&stated.Beverages[b.bev])
	}
}

// scarceIce sizes the ice machine so that ice lasts the weekend or not by a little: with the ice there is on Friday evening it makes what the
// expected drinks need, give or take 15 %. Its bin holds about what it makes in a day, as such bins do (common practice, no source).
func (w *weekend) scarceIce(r *rand.Rand) {
	s := &w.season
	s.Ice.Moulds = nil
	need := 0.0
	for _, day := range w.forecasts {
		for k, f := range day {
			d := &s.Drinks[w.rows[k].drink]
			need += f.Mean * s.Site.ServingIceUsedG(d)
			for _, u := range d.Uses {
				b := &s.Beverages[slices.IndexFunc(s.Beverages, func(b models.Beverage) bool { return b.Code == u.Beverage })]
				need += f.Mean * u.G * b.Ratio * b.IceShare / finishedPerDose(b)
			}
		}
	}
	const days = 2.0 // from Friday evening to Sunday evening
	bin, opening := 0.7+0.4*r.Float64(), 0.3+0.6*r.Float64()
	perDay := need / (days + bin*opening) * (0.85 + 0.3*r.Float64())
	s.Ice.BinG, s.Ice.OpeningG = bin*perDay, bin*opening*perDay
	m := &s.Ice.Makers[0]
	high := *s.Days[saturday].Forecast.TempC
	m.KgPerDayRated = perDay / 1000 / (ice.Maker{KgPerDayRated: 1, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}).KgPerDay(high-4, s.Ice.InletWaterC)
}

// statedSetup is what the set-up of a weekend's shop states where it is wrong: the output of the ice machine by the factor given, the loss
// of the bin and the liquid that grounds retain by 10 to 30 %, and nothing about the ice for jugs and staff.
func (w *weekend) statedSetup(r *rand.Rand, output float64) models.Setup {
	off := func() float64 {
		x := 0.10 + 0.20*r.Float64()
		if r.IntN(2) == 0 {
			return 1 - x
		}
		return 1 + x
	}
	w.season.Site.OtherIcePct = 8 * r.Float64()
	s := w.season.Setup
	s.Site.OtherIcePct = 0
	s.Beverages, s.Ice.Makers = slices.Clone(s.Beverages), slices.Clone(s.Ice.Makers)
	s.Ice.Makers[0].KgPerDayRated /= output
	s.Ice.BinLossPctPH /= off()
	for i := range s.Beverages {
		s.Beverages[i].RetainedRatio /= off()
	}
	return s
}

// threeWeeks is what was counted and weighed in three weeks at the weekend's shop, as its stated set-up sees it: four looks into the ice bin
// a day, by eye in quarters, and two weighed batches of each beverage a day.
func (w *weekend) threeWeeks(r *rand.Rand, stated *models.Setup) learnt.Observed {
	truth := &w.season.Setup
	bin := truth.Ice.BinG
	out := learnt.Observed{Ice: learnt.IceShop{BinG: bin, LossPctPerH: stated.Ice.BinLossPctPH, Machines: []string{stated.Ice.Makers[0].Code}}, Batches: map[string][]learnt.Brewed{}}
	makes := func(s *models.Setup, airC float64) float64 {
		m := &s.Ice.Makers[0]
		return ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}.KgPerDay(airC, s.Ice.InletWaterC) * 1000 / 96
	}
	level, keep := bin/2, math.Pow(1-truth.Ice.BinLossPctPH/100, 0.25)
	usual := *w.season.Days[saturday].Forecast.TempC - 2 // of a hot spell like the weekend's
	for day := range 21 {
		high := usual + 3*r.NormFloat64()
		busy, output := []float64{1, 1, 1, 1, 1, weekdays[0], weekdays[1]}[day%7]*math.Exp(0.15*r.NormFloat64()), lognormal(r, risk.DefaultAssumptions().OutputSD)
		stirred := w.brewDay(r, busy, high, &out)
		for q := range 96 {
			if slices.Contains([]int{7 * 4, 11 * 4, 15 * 4, 19 * 4}, q) {
				g := math.Round((level/bin+0.05*r.NormFloat64())*4) / 4 * bin
				out.Ice.Counts = append(out.Ice.Counts, learnt.BinCount{Step: len(out.Ice.Steps), G: min(max(0, g), bin)})
			}
			air := high - 5 + 5*math.Cos(2*math.Pi*(float64(q)/4-15)/24)
			step := learnt.IceStep{AirC: air, MadeG: []float64{makes(stated, air)}}
			if q == 8*4 || q == 13*4 {
				step.MovedG = -min(stirred/2, level)
			}
			served := 0.0
			if q >= 9*4 && q < 18*4 {
				for i := range truth.Drinks {
					d := &truth.Drinks[i]
					n := busy * w.expected(d.Code, high) / 36 * math.Exp(0.4*r.NormFloat64()-0.08)
					served += n * truth.Site.ServingIceUsedG(d)
					step.ServedG += n * stated.Site.ServingIceUsedG(d)
				}
			}
			have := level*keep + makes(truth, air)*output + step.MovedG
			if served > have { // the last of the ice ends the sales
				step.ServedG *= max(0, have) / served
				served = max(0, have)
			}
			level = min(max(0, have-served*math.Exp(0.1*r.NormFloat64())), bin)
			out.Ice.Steps = append(out.Ice.Steps, step)
		}
	}
	return out
}

// expected is the mean number of a drink on a weekday with a high of highC °C.
func (w *weekend) expected(drink string, highC float64) float64 {
	x := slices.Index(demoDrinks, drink)
	return w.scale * perDay[x] * math.Exp(perC[x]*(highC-18))
}

// brewDay weighs two batches of each beverage for a day's drinks and returns the ice stirred into them.
func (w *weekend) brewDay(r *rand.Rand, busy, highC float64, out *learnt.Observed) (iceG float64) {
	for i := range w.season.Beverages {
		b := &w.season.Beverages[i]
		need := 0.0
		for k := range w.season.Drinks {
			for _, u := range w.season.Drinks[k].Uses {
				if u.Beverage == b.Code {
					need += busy * w.expected(w.season.Drinks[k].Code, highC) * u.G
				}
			}
		}
		for range 2 {
			a := brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}.ForBeverage(max(500, need/2))
			out.Batches[b.Code] = append(out.Batches[b.Code], learnt.Brewed{DoseG: a.DoseG, WaterG: a.BrewWaterG, IceG: a.IceG, BeverageG: a.BeverageG * math.Exp(0.015*r.NormFloat64())})
			iceG += a.IceG
		}
	}
	return iceG
}

// iceOnBothDays is the stated chance of running out of ice on each day of the weekend: 0 without a warning.
func (w *weekend) iceOnBothDays(t testing.TB, p *models.Plan) []shortageWarning {
	item := len(w.season.Beverages)
	out := []shortageWarning{{item: item}, {item: item, day: 1}}
	for _, x := range w.shortageWarnings(t, p) {
		if x.item == item {
			out[x.day].chance = max(out[x.day].chance, x.chance)
		}
	}
	return out
}

// Where a set-up is 10 to 30 % off, the stated chance of running out of ice is wrong: too low where the ice machine makes less than stated,
// too high where it makes more. With what three weeks of counts and weighed batches teach, it comes true as often as stated again. Compared
// are the days on which it is open whether ice runs out: plans of the true set-up say 20 to 80 %. HOTDAY_WEEKENDS=400 measures enough of
// them.
func TestLearntSetUpsCalibrateWarningsAgain(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	const few = 4
	n := weekendCount(t, few)
	o := &Options{Budget: 20_000, Simulated: 300}
	for _, weak := range []bool{true, false} {
		var open, all [3]band // by the set-up as stated, learnt, and true
		taken := 0
		for seed := range n {
			w := randomWeekend(t, uint64(seed))
			r := rand.New(rand.NewPCG(uint64(seed), 77))
			output := 1.10 + 0.20*r.Float64()
			if weak {
				output = 2 - output
			}
			w.scarceIce(r)
			stated := w.statedSetup(r, output)
			taught := stated
			observed := w.threeWeeks(r, &stated)
			for _, v := range learnt.Values(&stated, &observed) {
				if v.Change != nil {
					var err error
					taught, err = taught.WithFields(v.Change.Set)
					require.NoError(t, err)
					taken++
				}
			}
			var by [3][]outcome
			for i, s := range []*models.Setup{&stated, &taught, &w.season.Setup} {
				by[i] = w.runPlanOf(t, o, s, w.iceOnBothDays)
			}
			for day, x := range by[2] {
				for i := range by {
					all[i].add(&by[i][day])
					if x.chance >= 0.2 && x.chance <= 0.8 {
						open[i].add(&by[i][day])
					}
				}
			}
			if n > few && seed%20 == 19 {
				t.Logf("%d shops: %+v", seed+1, open)
			}
		}
		t.Logf("machine makes less than stated: %v; %d changes taken in %d shops", weak, taken, n)
		for i, name := range []string{"as set up", "learnt", "true"} {
			t.Logf("  %-9s  %4d open days: stated %4.1f %%, came true %4.1f %%;  all %d days: stated %4.1f %%, came true %4.1f %%", name,
				open[i].warnings, 100*open[i].mean(), 100*open[i].share(), all[i].warnings, 100*all[i].mean(), 100*all[i].share())
		}
		if n > 10*few {
			require.InDelta(t, open[1].mean(), open[1].share(), 0.05)
			require.Greater(t, math.Abs(open[0].mean()-open[0].share()), 0.05, "without learning they are off")
		}
	}
}
