package risk

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"hotday/planner/demand"
)

// shopDay is an independent model of a day: customers arrive one by one at random times, their number is Poisson with
// gamma-distributed levels, and each buys a whole serving or none.
type shopDay struct {
	in  Input
	rng *rand.Rand
}

// shortages reports whether stock and ice ran out for a customer on the first day.
func (l shopDay) shortages() (stock, ice bool) {
	in, a := l.in, l.in.Assume
	gamma := func(variance float64) distuv.Gamma {
		return distuv.Gamma{Alpha: 1 / variance, Beta: 1 / variance, Src: l.rng}
	}
	common := gamma(a.Correlation.Day / demand.GuessSize)
	warm := l.rng.NormFloat64()
	z := math.Sqrt(a.WeatherShare)*warm + math.Sqrt(1-a.WeatherShare)*l.rng.NormFloat64()
	level := common.Quantile(0.5 * math.Erfc(-z/math.Sqrt2))
	customers := make([][]int, in.Slots) // drinks, by slot
	for _, r := range in.Rows {
		own := gamma((1 - a.Correlation.Day) / demand.GuessSize).Rand()
		n := int(distuv.Poisson{Lambda: r.Range.Mean() * level * own, Src: l.rng}.Rand())
		for range n {
			s := r.Slot + l.rng.IntN(len(r.Share))
			customers[s] = append(customers[s], r.Drink)
		}
	}
	lognormal := func(sd float64) float64 { return logNormal(sd, l.rng.NormFloat64()) }
	f := in.Flows[0]
	bin := math.Min(f.Capacity, f.Opening*lognormal(a.CountSDAt(f.CountAgeH)))
	output := lognormal(a.OutputSD) * math.Max(0, 1+f.Makers[0].PerC*a.TempSDAt(in.Days[0].AheadDays)*warm)
	g := in.Stocks[0].Lots[0].G
	for s, queue := range customers {
		bin = math.Min(f.Capacity, bin*(1-f.LossPerSlot)+f.Makers[0].G[s]*output)
		l.rng.Shuffle(len(queue), func(i, j int) { queue[i], queue[j] = queue[j], queue[i] })
		for _, j := range queue {
			d := in.Drinks[j]
			noStock, noIce := g < d.Stocks[0].G, bin < d.Flows[0].G
			stock, ice = stock || noStock, ice || noIce
			if !noStock && !noIce {
				g -= d.Stocks[0].G
				bin -= d.Flows[0].G
			}
		}
	}
	return stock, ice
}

// drawShop draws a day at a shop with stock and ice close to its demand.
func drawShop(rng *rand.Rand) Input {
	in := Input{Slots: 16, Assume: DefaultAssumptions(), Days: []Day{{Until: 16, AheadDays: float64(rng.IntN(4))}}}
	stock, ice := 0.0, 0.0
	for k := range 2 + rng.IntN(3) {
		d := Drink{Stocks: []Take{{0, 100 + 150*rng.Float64()}}, Flows: []Take{{0, 80 + 120*rng.Float64()}}}
		in.Drinks = append(in.Drinks, d)
		for part := range 4 {
			m := 2 + 35*rng.Float64()
			stock += m * d.Stocks[0].G
			ice += m * d.Flows[0].G
			in.Rows = append(in.Rows, Row{Key: fmt.Sprint(k, part), Drink: k, Range: demand.Guess(m), Slot: 4 * part, Share: flat(4)})
		}
	}
	in.Stocks = []Stock{{Lots: []Lot{{G: stock * (0.8 + 0.6*rng.Float64()), Until: 16}}}}
	ice *= 0.8 + 0.6*rng.Float64()
	opening := rng.Float64()
	mk := make([]float64, 16)
	for s := range mk {
		mk[s] = ice * (1 - opening) / 16
	}
	in.Flows = []Flow{{Key: "ice", Opening: ice * opening, CountAgeH: 6 * rng.Float64(), Capacity: 2 * ice, LossPerSlot: 0.001,
		Makers: []Maker{{Key: "a", G: mk, PerC: -0.015, SD: -1}}}}
	return in
}

// Calibration: of the predicted chances of 20–40 %, and of those of 60–80 %, the share of shortages that happen is their mean.
// With a thousand of each, the standard error of the share is about 1.4 percentage points.
func TestChancesAreCalibrated(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 7))
	type band struct{ predicted, observed, n float64 }
	bands := map[string]*band{"20-40": {}, "60-80": {}}
	record := func(chance float64, happened bool) {
		b := bands["20-40"]
		switch {
		case chance >= 0.6 && chance < 0.8:
			b = bands["60-80"]
		case chance < 0.2 || chance >= 0.4:
			return
		}
		b.n++
		b.predicted += chance
		if happened {
			b.observed++
		}
	}
	for shop := 0; bands["20-40"].n < 1000 || bands["60-80"].n < 1000; shop++ {
		in := drawShop(rng)
		r := simulate(t, in, 150)
		stock, ice := shopDay{in, rng}.shortages()
		record(r.Stocks[0].All.Chance, stock)
		record(r.Flows[0].All.Chance, ice)
	}
	for name, b := range bands {
		t.Logf("%s %%: %.0f cases, predicted %.1f %%, observed %.1f %%", name, b.n, 100*b.predicted/b.n, 100*b.observed/b.n)
		assert.InDelta(t, b.predicted/b.n, b.observed/b.n, 0.05, name)
	}
}
