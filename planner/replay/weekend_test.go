package replay

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/demand/forecast"
	"hotday/planner/ice"
	"hotday/planner/risk"
)

// weekend is a Saturday and Sunday at an invented shop, with a forecast of its weather and demand, and an outcome drawn from the
// stated uncertainty of that forecast. It is drawn by other means than the planner's simulation: individual customers at random
// times, their number Poisson with gamma-distributed levels.
type weekend struct {
	season    Season
	forecasts [][]forecast.Day // of Saturday and Sunday, by row
	seed      uint64
	run       int     // number of the outcome
	scale     float64 // size of the shop's trade
	rows      []row
	output    [2]float64 // factor on the ice machines' output, by day
	count     float64    // factor on the ice count
	rng       *rand.Rand
}

const (
	saturday = 28 // index of the Saturday among the days, after four weekends
	friday   = saturday - 1
	usualC   = 27.0
)

// perDay is the demand for the demo shop's drinks on an average day of 18 °C, perC its relative increase per °C.
var (
	perDay     = []float64{18, 9, 9, 7, 10, 10, 7, 16, 7, 5, 5, 2}
	perC       = []float64{.032, .036, .028, .045, .030, .026, .042, .024, .030, .022, .038, .020}
	partShares = []float64{.20, .30, .32, .18}
	weekdays   = [2]float64{1.42, 1.34} // factors of Saturday and Sunday
)

// randomWeekend draws a shop, its weather and its demand from a seed.
func randomWeekend(t testing.TB, seed uint64) *weekend {
	t.Helper()
	w := &weekend{seed: seed, rng: rand.New(rand.NewPCG(seed, 99))}
	w.scale = 0.7 + 0.9*w.rng.Float64()
	w.season.Setup = randomShop(t, w.rng, w.scale)
	require.NoError(t, w.season.Setup.Validate())
	s := &w.season
	first := models.Date("2026-06-13")
	for i := range saturday + 2 {
		d := Day{Date: first.AddDays(i), Closed: i%7 > 1 && i != friday}
		high := math.Min(38, math.Max(15, usualC+4.5*w.rng.NormFloat64()))
		d.Forecast = sinusoidalDay(d.Date, high)
		d.Weather = *d.Forecast
		s.Days = append(s.Days, d)
	}
	w.rows = s.rows()
	for i := range s.Days {
		if d := &s.Days[i]; !d.Closed && i != friday {
			w.drawDay(i)
		}
	}
	w.count = lognormal(w.rng, risk.DefaultAssumptions().CountSDAt(0))
	return w
}

// drawDay draws day i: the error of the weather forecast, the level of the day that it partly drives, the ice machines' output,
// and the customers.
func (w *weekend) drawDay(i int) {
	a := risk.DefaultAssumptions()
	d := &w.season.Days[i]
	k := i % 7
	tempZ := w.rng.NormFloat64()
	high := *d.Forecast.TempC
	ahead := 16.0/24 + float64(k)
	d.Weather = *sinusoidalDay(d.Date, high+a.TempSDAt(ahead)*tempZ)
	z := math.Sqrt(a.WeatherShare)*tempZ + math.Sqrt(1-a.WeatherShare)*w.rng.NormFloat64()
	gamma := func(variance float64) distuv.Gamma {
		return distuv.Gamma{Alpha: 1 / variance, Beta: 1 / variance, Src: w.rng}
	}
	level := gamma(a.Correlation.Day / demand.GuessSize).Quantile(0.5 * math.Erfc(-z/math.Sqrt2))
	own := gamma((1 - a.Correlation.Day) / demand.GuessSize)
	var forecasts []forecast.Day
	d.Counts = nil
	for _, r := range w.rows {
		drink := w.season.Drinks[r.drink].Code
		x := slices.IndexFunc(demoDrinks, func(c string) bool { return c == drink })
		mean := w.scale * perDay[x] * weekdays[k] * math.Exp(perC[x]*(high-18)) * partShares[r.part]
		g := demand.Guess(mean)
		f := forecast.Day{Mean: mean}
		for _, q := range levels {
			f.Quantiles = append(f.Quantiles, g.Quantile(q))
		}
		forecasts = append(forecasts, f)
		n := distuv.Poisson{Lambda: mean * level * own.Rand(), Src: w.rng}.Rand()
		d.Counts = append(d.Counts, Count{DayPart: w.season.Site.DayParts[r.part].Code, Drink: drink, Count: n})
	}
	if i >= saturday {
		w.forecasts = append(w.forecasts, forecasts)
		w.output[k] = lognormal(w.rng, a.OutputSD)
	}
}

// lognormal draws a factor with mean 1 and standard deviation sd.
func lognormal(r *rand.Rand, sd float64) float64 {
	v := math.Log1p(sd * sd)
	return math.Exp(math.Sqrt(v)*r.NormFloat64() - v/2)
}

// sinusoidalDay is a day with a maximum of high °C at 15:00.
func sinusoidalDay(d models.Date, high float64) *Weather {
	w := &Weather{TempC: &high}
	for h := range 24 {
		w.Hours = append(w.Hours, models.WeatherHour{At: d.At(h*60, time.UTC), TempC: high - 5 + 5*math.Cos(2*math.Pi*float64(h-15)/24)})
	}
	return w
}

// placeCustomers puts the customers of day i into random slots of their day part, in demand.
func (w *weekend) placeCustomers(i int, from time.Time, slot time.Duration, demand [][]float64) {
	s := &w.season
	n := len(demand[0])
	day := s.demandOf(&s.Days[i], w.rows)
	rng := rand.New(rand.NewPCG(w.seed, uint64(i+100*w.run)))
	one := make([]float64, len(w.rows))
	for k, r := range w.rows {
		clear(one)
		one[k] = 1
		share := s.spreadDemand(&s.Days[i], w.rows[k:k+1], []float64{1}, from, slot, n)[r.drink]
		if math.IsNaN(day[k]) {
			continue
		}
		for range int(day[k]) {
			u := rng.Float64()
			for t, f := range share {
				if u -= f; u < 0 {
					demand[r.drink][t]++
					break
				}
			}
		}
	}
}

var demoDrinks = []string{"iced-house", "iced-house-large", "iced-bright", "crushed", "steeped-black", "steeped-milk", "steeped-tonic",
	"iced-milk-coffee", "iced-long", "chilled-cream", "chilled-orange", "bottle"}

// randomShop varies the demo's shop: its drinks, brewers and prices, and whether ice is scarce or ample.
func randomShop(t testing.TB, r *rand.Rand, scale float64) models.Setup {
	t.Helper()
	doc, err := os.ReadFile("../../deploy/demo/setup.json")
	require.NoError(t, err)
	var s models.Setup
	require.NoError(t, models.DecodeStrict(doc, &s))
	s.Site.Timezone = "UTC"
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

	left := 1 + r.IntN(len(s.Beverages))
	r.Shuffle(len(s.Beverages), func(i, k int) { s.Beverages[i], s.Beverages[k] = s.Beverages[k], s.Beverages[i] })
	s.Beverages = s.Beverages[:left]
	sold := map[string]bool{}
	s.Drinks = slices.DeleteFunc(s.Drinks, func(d models.Drink) bool {
		for _, u := range d.Uses {
			if !slices.ContainsFunc(s.Beverages, func(b models.Beverage) bool { return b.Code == u.Beverage }) {
				return true
			}
		}
		if len(d.Uses) == 0 && r.Float64() < 0.5 {
			return true
		}
		for _, u := range d.Uses {
			sold[u.Beverage] = true
		}
		return false
	})
	brewers := s.Brewers[:0]
	for i, b := range s.Brewers {
		b.Beverages = slices.DeleteFunc(b.Beverages, func(c string) bool { return !sold[c] })
		if i == 1 && r.Float64() < 0.3 || len(b.Beverages) == 0 {
			continue
		}
		b.BatchCost *= between(0.5, 2)
		brewers = append(brewers, b)
	}
	s.Brewers = brewers
	for i := range s.Beverages {
		s.Beverages[i].DisposalCost = between(10, 120)
	}
	for i := range s.Coffees {
		s.Coffees[i].CostPerKg *= between(1, 2.5)
	}
	for i := range s.Drinks {
		s.Drinks[i].Price = math.Round(s.Drinks[i].Price * between(0.7, 1.1))
	}
	s.Site.StoreG = between(20_000, 45_000)
	s.Ice.BinG = between(20_000, 40_000)
	s.Ice.OpeningG = s.Ice.BinG * between(0.1, 0.6)
	s.Ice.Makers = s.Ice.Makers[:1]
	// The ice machine makes 40 to 140 % of the ice of an average weekend day.
	g := 0.0
	for _, d := range s.Drinks {
		x := slices.Index(demoDrinks, d.Code)
		day := scale * perDay[x] * weekdays[0] * math.Exp(perC[x]*(usualC-18))
		g += day * d.ServingIceG
		for _, u := range d.Uses {
			for _, b := range s.Beverages {
				if b.Code == u.Beverage {
					g += day * u.G * b.Ratio * b.IceShare / (b.Ratio + b.MaxYieldPct/100 - b.RetainedRatio)
				}
			}
		}
	}
	m := &s.Ice.Makers[0]
	m.KgPerDayRated = 1
	m.KgPerDayRated = between(0.4, 1.4) * g / 1000 / (ice.Maker{KgPerDayRated: 1, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}).KgPerDay(usualC, s.Ice.InletWaterC)
	if r.Float64() < 0.5 {
		s.Ice.Moulds = nil
	}
	s.Ice.Plain = models.PlainIce{OpeningG: 1e6, BinG: 1e6}
	s.Water.TankL, s.Water.OpeningL, s.Water.MakeLPerH = 200, 200, 40
	return s
}

// weekendCount is the number of weekends to simulate: few, or HOTDAY_WEEKENDS.
func weekendCount(t testing.TB, few int) int {
	t.Helper()
	v := os.Getenv("HOTDAY_WEEKENDS")
	if v == "" {
		return few
	}
	n, err := strconv.Atoi(v)
	require.NoError(t, err, "HOTDAY_WEEKENDS is a number of weekends")
	return n
}

// newReplay is a replay with the history before the weekend.
func (w *weekend) newReplay(o *Options) *replayer {
	s := &w.season
	r := &replayer{s: s, o: o, rows: w.rows}
	r.history = history{s: s, rows: w.rows}
	for i := range saturday {
		if !s.Days[i].Closed && i != friday {
			r.history.add(&s.Days[i])
		}
	}
	return r
}

// dayAt is 0 until the end of the Saturday, then 1.
func (w *weekend) dayAt(at time.Time) int {
	if w.season.Site.ServiceDayOf(at) < w.season.Days[saturday+1].Date {
		return 0
	}
	return 1
}

// redraw draws another outcome of the same forecast.
func (w *weekend) redraw(run int) {
	w.rng = rand.New(rand.NewPCG(w.seed, uint64(1000+run)))
	w.run, w.forecasts = run, nil
	w.drawDay(saturday)
	w.drawDay(saturday + 1)
	w.count = lognormal(w.rng, risk.DefaultAssumptions().CountSDAt(0))
}

// simulate simulates the weekend under a policy that plans every evening, and Replanned during the day as well.
func (w *weekend) simulate(t testing.TB, o *Options, p Policy) Figures {
	t.Helper()
	s := &w.season
	r, err := w.newReplay(o).newRun(p)
	require.NoError(t, err)
	r.kitchen.ice = s.Ice.OpeningG
	var out Figures
	for k := range 2 {
		i := saturday + k
		sim := r.newSimulation(i, make([]float64, len(w.rows)), s.planTime(i), s.planTime(i+1))
		w.placeCustomers(i, sim.from, sim.slot, sim.demand)
		for t := range sim.iceOutput {
			sim.iceOutput[t] *= w.output[k]
		}
		require.NoError(t, r.simulateDay(context.Background(), sim, &evening{i, s.Days[i:], w.forecasts[k:]}))
		out.add(&sim.figures)
	}
	// Stock left after the last day is poured away, for every policy.
	for i := range r.kitchen.lots {
		b := &r.kitchen.lots[i]
		out.PouredG += b.g
		out.PouredCoffee += b.g * r.prices.CoffeePerG[b.bev]
		out.Disposal += b.g * r.prices.DisposalPerG[b.bev]
	}
	return out
}
