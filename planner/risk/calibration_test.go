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

// lived is a day lived another way than the simulation does it: whole customers come one by one at random moments, their number
// Poisson about levels that are gamma distributed, and each takes a whole serving or goes without.
type lived struct {
	in  Input
	rng *rand.Rand
}

// shortOf reports which of the stock and the ice somebody went without on the first day.
func (l lived) shortOf() (stock, ice bool) {
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
	output := lognormal(a.OutputSD) * math.Max(0, 1+f.Makes[0].PerC*a.TempSDAt(in.Days[0].AheadDays)*warm)
	g := in.Stocks[0].Lots[0].G
	for s, queue := range customers {
		bin = math.Min(f.Capacity, bin*(1-f.LossPerSlot)+f.Makes[0].G[s]*output)
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

// anyShop is a day at a shop whose stock and ice are about what is asked for.
func anyShop(rng *rand.Rand) Input {
	in := Input{Slots: 16, SlotH: 0.75, Assume: Assumed(), Days: []Day{{Until: 16, AheadDays: float64(rng.IntN(4))}}}
	stock, ice := 0.0, 0.0
	for k := range 2 + rng.IntN(3) {
		d := Drink{Stocks: []Take{{0, 100 + 150*rng.Float64()}}, Flows: []Take{{0, 80 + 120*rng.Float64()}}}
		in.Drinks = append(in.Drinks, d)
		for part := range 4 {
			m := 2 + 35*rng.Float64()
			stock += m * d.Stocks[0].G
			ice += m * d.Flows[0].G
			in.Rows = append(in.Rows, Row{Key: fmt.Sprint(k, part), Drink: k, Range: demand.Guess(m, ""), Slot: 4 * part, Share: flat(4)})
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
		Makes: []Make{{Key: "a", G: mk, PerC: -0.015, SD: -1}}}}
	return in
}

// Of the warnings that say 20 to 40 %, and of those that say 60 to 80 %, the share that comes true is their mean chance. A
// thousand of each: the share has a standard error of about 1.4 points.
func TestWarningsComeTrueAsOftenAsTheySay(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(11, 7))
	type band struct{ said, true, n float64 }
	bands := map[string]*band{"20-40": {}, "60-80": {}}
	note := func(chance float64, came bool) {
		b := bands["20-40"]
		switch {
		case chance >= 0.6 && chance < 0.8:
			b = bands["60-80"]
		case chance < 0.2 || chance >= 0.4:
			return
		}
		b.n++
		b.said += chance
		if came {
			b.true++
		}
	}
	for shop := 0; bands["20-40"].n < 1000 || bands["60-80"].n < 1000; shop++ {
		in := anyShop(rng)
		r := live(t, in, 150)
		stock, ice := lived{in, rng}.shortOf()
		note(r.Stocks[0].All.Chance, stock)
		note(r.Flows[0].All.Chance, ice)
	}
	for name, b := range bands {
		t.Logf("%s %%: %.0f warnings, said %.1f %%, came true %.1f %%", name, b.n, 100*b.said/b.n, 100*b.true/b.n)
		assert.InDelta(t, b.said/b.n, b.true/b.n, 0.05, name)
	}
}
