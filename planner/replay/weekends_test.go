package replay

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/demand"
	"hotday/planner/demand/forecast"
	"hotday/planner/risk"
)

// weekend is a Saturday and Sunday at an invented shop: a forecast of its weather and its demand, and what then came, drawn from the
// forecast's own stated uncertainty by other means than the planner's simulation: whole customers at random moments, their
// number Poisson about levels that are gamma distributed.
type weekend struct {
	season Season
	cast   [][]forecast.Day // of Saturday and Sunday, by row
	seed   uint64
	rows   []row
	output [2]float64 // factor on the makers' output, by day
	count  float64    // factor on the ice that was counted
	rng    *rand.Rand
}

const (
	saturday = 28 // index of the Saturday in the season's days; four weekends come before it
	friday   = saturday - 1
)

// perDay is what an average day of 18 °C asks for of the demo shop's drinks; perC is what a degree above lifts it by.
var (
	perDay   = []float64{18, 9, 9, 7, 10, 10, 7, 16, 7, 5, 5, 2}
	perC     = []float64{.032, .036, .028, .045, .030, .026, .042, .024, .030, .022, .038, .020}
	partsOf  = []float64{.20, .30, .32, .18}
	weekdays = [2]float64{1.42, 1.34} // trade of Saturday and Sunday
)

// anyWeekend draws shop, weather and demand of a seed.
func anyWeekend(t testing.TB, seed uint64) *weekend {
	t.Helper()
	w := &weekend{seed: seed, rng: rand.New(rand.NewPCG(seed, 99))}
	w.season.Setup = anyShop(t, w.rng)
	require.NoError(t, w.season.Setup.Validate())
	s := &w.season
	first := models.Date("2026-06-13")
	for i := range saturday + 2 {
		d := Day{Date: first.AddDays(i), Closed: i%7 > 1 && i != friday}
		high := math.Min(38, math.Max(15, 27+4.5*w.rng.NormFloat64()))
		d.Forecast = hourly(d.Date, high)
		d.Weather = *d.Forecast
		s.Days = append(s.Days, d)
	}
	w.rows = s.rows()
	scale := 0.7 + 0.9*w.rng.Float64()
	for i := range s.Days {
		if d := &s.Days[i]; !d.Closed && i != friday {
			w.draw(i, scale)
		}
	}
	w.count = lognormal(w.rng, risk.Assumed().CountSDAt(0))
	return w
}

// draw draws day i: the error of the weather forecast, the day's level that it moves in part, the makers' output, the customers.
func (w *weekend) draw(i int, scale float64) {
	a := risk.Assumed()
	d := &w.season.Days[i]
	k := i % 7
	warm := w.rng.NormFloat64()
	high, _ := d.Forecast.warmest(d.Date, time.UTC)
	ahead := 16.0/24 + float64(k)
	d.Weather = *hourly(d.Date, high+a.TempSDAt(ahead)*warm)
	z := math.Sqrt(a.WeatherShare)*warm + math.Sqrt(1-a.WeatherShare)*w.rng.NormFloat64()
	gamma := func(variance float64) distuv.Gamma {
		return distuv.Gamma{Alpha: 1 / variance, Beta: 1 / variance, Src: w.rng}
	}
	level := gamma(a.Correlation.Day / demand.GuessSize).Quantile(0.5 * math.Erfc(-z/math.Sqrt2))
	own := gamma((1 - a.Correlation.Day) / demand.GuessSize)
	var cast []forecast.Day
	d.Counts = nil
	for _, r := range w.rows {
		drink := w.season.Drinks[r.drink].Code
		x := slices.IndexFunc(demoDrinks, func(c string) bool { return c == drink })
		mean := scale * perDay[x] * weekdays[k] * math.Exp(perC[x]*(high-18)) * partsOf[r.part]
		g := demand.Guess(mean, "")
		f := forecast.Day{Mean: mean}
		for _, q := range levels {
			f.Quantiles = append(f.Quantiles, g.Quantile(q))
		}
		cast = append(cast, f)
		n := distuv.Poisson{Lambda: mean * level * own.Rand(), Src: w.rng}.Rand()
		d.Counts = append(d.Counts, Count{DayPart: w.season.Site.DayParts[r.part].Code, Drink: drink, Count: n})
	}
	if i >= saturday {
		w.cast = append(w.cast, cast)
		w.output[k] = lognormal(w.rng, a.OutputSD)
	}
}

func lognormal(r *rand.Rand, sd float64) float64 {
	v := math.Log1p(sd * sd)
	return math.Exp(math.Sqrt(v)*r.NormFloat64() - v/2)
}

// hourly is the air of a day whose warmest hour is high.
func hourly(d models.Date, high float64) *Weather {
	w := &Weather{TempC: &high}
	for h := range 24 {
		w.Hours = append(w.Hours, models.WeatherHour{At: d.At(h*60, time.UTC), TempC: high - 5 + 5*math.Cos(2*math.Pi*float64(h-15)/24)})
	}
	return w
}

// place puts the customers of day i one by one into the slots of their day part, into asked.
func (w *weekend) place(i int, from time.Time, slot time.Duration, asked [][]float64) {
	s := &w.season
	n := len(asked[0])
	day := s.demandOf(&s.Days[i], w.rows)
	rng := rand.New(rand.NewPCG(w.seed, uint64(i)))
	one := make([]float64, len(w.rows))
	for k, r := range w.rows {
		clear(one)
		one[k] = 1
		share := s.slots(&s.Days[i], w.rows[k:k+1], []float64{1}, from, slot, n)[r.drink]
		if math.IsNaN(day[k]) {
			continue
		}
		for range int(day[k]) {
			u := rng.Float64()
			for t, f := range share {
				if u -= f; u < 0 {
					asked[r.drink][t]++
					break
				}
			}
		}
	}
}

var demoDrinks = []string{"iced-house", "iced-house-large", "iced-bright", "crushed", "steeped-black", "steeped-milk", "steeped-tonic",
	"iced-milk-coffee", "iced-long", "chilled-cream", "chilled-orange", "bottle"}

// anyShop varies the demo's shop: what it sells, its brewers, its ice tight or ample, its prices.
func anyShop(t testing.TB, r *rand.Rand) models.Setup {
	t.Helper()
	doc, err := os.ReadFile("../../testdata/demo/setup.json")
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
		s.Coffees[i].CostPerKg *= between(0.8, 2)
	}
	for i := range s.Drinks {
		s.Drinks[i].Price = math.Round(s.Drinks[i].Price * between(0.7, 1.1))
	}
	s.Site.StoreG = between(20_000, 45_000)
	s.Ice.BinG = between(20_000, 40_000)
	s.Ice.OpeningG = s.Ice.BinG * between(0.2, 1)
	s.Ice.Makers = s.Ice.Makers[:1]
	s.Ice.Makers[0].KgPerDayRated = between(8, 55)
	if r.Float64() < 0.5 {
		s.Ice.Moulds = nil
	}
	s.Ice.Plain = models.PlainIce{OpeningG: 60_000, BinG: 60_000}
	s.Water.TankL, s.Water.OpeningL, s.Water.MakeLPerH = 200, 200, 40
	return s
}

// weekendsOf is how many weekends a test lives: few, or as many as HOTDAY_WEEKENDS says.
func weekendsOf(t testing.TB, few int) int {
	t.Helper()
	v := os.Getenv("HOTDAY_WEEKENDS")
	if v == "" {
		return few
	}
	n, err := strconv.Atoi(v)
	require.NoError(t, err, "HOTDAY_WEEKENDS is a number of weekends")
	return n
}

// relive is a replay that stands before the weekend.
func (w *weekend) relive(o *Options) *replaying {
	s := &w.season
	r := &replaying{s: s, o: o, prices: newPrices(&s.Setup), rows: w.rows, freeze: freezing(&s.Ice)}
	r.known = known{s: s, rows: w.rows}
	for i := range saturday {
		if !s.Days[i].Closed && i != friday {
			r.known.see(&s.Days[i])
		}
	}
	return r
}

// dayAt is 0 until the Saturday is over, then 1.
func (w *weekend) dayAt(at time.Time) int {
	if w.season.Site.ServiceDayOf(at) < w.season.Days[saturday+1].Date {
		return 0
	}
	return 1
}

// came is what a warning said and whether it came.
type came struct {
	kind   string
	chance float64
	short  bool
}

// warned plans the weekend on Friday evening, lives it as planned, and says of each warning of a shortage whether it came true.
func (w *weekend) warned(t testing.TB, o *Options) []came {
	t.Helper()
	s := &w.season
	r := w.relive(o)
	from, noon, to := s.evening(saturday), s.evening(saturday+1), s.evening(saturday+2)
	l := r.living(saturday, Plan, make([]float64, len(w.rows)), from, to)
	l.k.ice = s.Ice.OpeningG
	req := s.request(l.k, from, s.before(saturday), s.Days[saturday:])
	s.tellForecast(&req, w.rows, s.Days[saturday:], w.cast)
	p, err := planner.ComputeWith(context.Background(), req, planner.Options{WithoutWaysOut: true, Budget: o.Budget, Days: o.simulated()})
	require.NoError(t, err)
	l.k.ice = math.Min(s.Ice.BinG, l.k.ice*w.count)
	l.made = s.makers(s.Days[friday:], from, l.slot, l.n)
	for i := range l.made {
		l.made[i] *= w.output[w.dayAt(from.Add(time.Duration(i)*l.slot))]
	}
	for k := range 2 {
		w.place(saturday+k, from, l.slot, l.asked)
	}
	sh := s.sheetOf(&p, req.Now, to)
	l.follow(&sh)
	ice := len(s.Beverages)
	var lack [2][]float64
	for k, end := range []int{int(noon.Sub(from) / l.slot), l.n} {
		l.lack = make([]float64, ice+1)
		l.until(end)
		lack[k] = l.lack
	}
	var out []came
	for _, x := range p.Warnings {
		thing := ice
		switch {
		case x.Kind == models.WarnBeverageShort:
			thing = slices.IndexFunc(s.Beverages, func(b models.Beverage) bool { return strings.Contains(x.Cause, " of "+b.Name+" short: ") })
			require.GreaterOrEqual(t, thing, 0, x.Cause)
		case x.Kind != models.WarnIceShort || slices.Contains(x.Fields, "ice.plain"):
			continue
		}
		k := 0
		if s.Site.ServiceDayOf(x.At) == s.Days[saturday+1].Date {
			k = 1
		}
		if os.Getenv("ZV") != "" && (x.ChancePct > 90 && lack[k][thing] < l.leastOf(thing)/2) {
			fmt.Println(w.seed, x.At, x.Cause, lack, s.Beverages[min(thing, ice-1)].Code)
			for _, b := range p.Batches {
				fmt.Println("   ", b.Beverage, b.Start, b.Ready, b.UseBy, b.BeverageG)
			}
		}
		out = append(out, came{kind: x.Kind, chance: x.ChancePct / 100, short: lack[k][thing] >= l.leastOf(thing)/2})
	}
	return out
}

// leastOf is what the smallest serving takes of a thing.
func (l *living) leastOf(thing int) float64 {
	least := math.Inf(1)
	for d := range l.s.Drinks {
		l.takes(d, func(k int, g float64) {
			if k == thing {
				least = min(least, g)
			}
		})
	}
	return least
}

// lived lives the weekend under a method that plans anew every evening, Replanned through the day, too.
func (w *weekend) lived(t testing.TB, o *Options, m Method) Figures {
	t.Helper()
	s := &w.season
	r := w.relive(o)
	r.kitchens[m].ice = s.Ice.OpeningG
	var out Figures
	for k := range 2 {
		i := saturday + k
		l := r.living(i, m, make([]float64, len(w.rows)), s.evening(i), s.evening(i+1))
		w.place(i, l.from, l.slot, l.asked)
		for t := range l.made {
			l.made[t] *= w.output[k]
		}
		require.NoError(t, r.live(context.Background(), l, i, m, s.Days[i:], w.cast[k:]))
		out.add(&l.out)
	}
	// What is left after the last day is thrown away, whoever left it.
	for i := range r.kitchens[m].lots {
		b := &r.kitchens[m].lots[i]
		out.PouredG += b.g
		out.PouredCoffee += b.g * r.prices.unit[b.bev]
		out.Disposal += b.g * r.prices.disposal[b.bev]
	}
	return out
}

func TestCalibZZ(t *testing.T) {
	n := weekendsOf(t, 3)
	type band struct{ said, true, n float64 }
	bands := map[string]*[10]band{}
	begun := time.Now()
	for seed := range n {
		w := anyWeekend(t, uint64(seed))
		for _, c := range w.warned(t, &Options{Budget: searchBudget, Simulated: 1000}) {
			if bands[c.kind] == nil {
				bands[c.kind] = &[10]band{}
			}
			b := &bands[c.kind][min(9, int(c.chance*10))]
			b.n++
			b.said += c.chance
			if c.short {
				b.true++
			}
		}
	}
	for k, v := range bands {
		for i, b := range v {
			fmt.Printf("%s %d: n %.0f said %.3f true %.3f\n", k, i, b.n, b.said/b.n, b.true/b.n)
		}
	}
	fmt.Println(time.Since(begun))
}

func TestParZZ(t *testing.T) {
	n := weekendsOf(t, 3)
	var sum [methods]Figures
	begun := time.Now()
	for seed := range n {
		w := anyWeekend(t, uint64(seed))
		for _, m := range []Method{Plan, Replanned, Par, Foresight} {
			f := w.lived(t, &Options{Budget: searchBudget, Simulated: 1}, m)
			sum[m].add(&f)
		}
	}
	for m, f := range sum {
		fmt.Printf("%-18s cost %8.2f poured %7.1f missed %7.1f of %.0f ice %5.2f batches %d\n", Method(m), f.Cost()/100, f.PouredG/1000, f.Missed, f.Asked, f.IceShortH, f.Batches)
	}
	fmt.Println(time.Since(begun))
}
