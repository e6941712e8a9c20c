package risk

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// costOf is what Rates price in a result.
func costOf(res *Result, rates Rates) float64 {
	cost := 0.0
	for _, day := range res.Sales {
		for j, x := range day {
			cost += (x.Missed-x.NoIce)*rates.Missed[j] + x.NoIce*rates.NoIce[j]
		}
	}
	for k := range res.WasteG {
		cost += res.WasteG[k]*rates.Disposal[k] + res.AgingG[k]*rates.Aging[k]
	}
	return cost
}

func ratesOf(in Input) Rates {
	out := Rates{}
	for j := range in.Drinks {
		out.Missed, out.NoIce = append(out.Missed, 400+50*float64(j)), append(out.NoIce, 700-20*float64(j))
	}
	for k := range in.Stocks {
		out.Disposal, out.Aging = append(out.Disposal, 0.02+0.01*float64(k)), append(out.Aging, 0.001*float64(k+1))
	}
	return out
}

func TestATrialCostsWhatTheSimulationDoes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawDays(t)
		for j := range in.Drinks { // both treat the last billionth of a gram as they like
			in.Drinks[j].Flows[0].G = math.Round(in.Drinks[j].Flows[0].G)
		}
		in.Flows[0].Opening, in.Flows[0].Ice = math.Round(in.Flows[0].Opening), rapid.Bool().Draw(t, "ice for drinks")
		for i, g := range in.Flows[0].Makers[0].G {
			in.Flows[0].Makers[0].G[i] = math.Round(g)
		}
		days, rates := Draw(3, 40), ratesOf(in)
		trial := days.Trial(in, rates)
		for range 8 {
			res, err := days.Simulate(context.Background(), in)
			require.NoError(t, err)
			want := costOf(&res, rates)
			require.InDelta(t, want, trial.Cost(in.Stocks), 1e-6*(1+want))
			if rapid.Bool().Draw(t, "keep") {
				trial.Keep()
			}
			if lots := in.Stocks[0].Lots; len(lots) > 0 && rapid.Bool().Draw(t, "fewer") {
				i := rapid.IntRange(0, len(lots)-1).Draw(t, "lot")
				in.Stocks = []Stock{{Lots: slices.Delete(slices.Clone(lots), i, i+1)}}
			}
			in.Stocks = slices.Clone(in.Stocks)
			k := rapid.IntRange(0, len(in.Stocks)-1).Draw(t, "stock")
			l := Lot{Key: "more", G: rapid.Float64Range(100, 4000).Draw(t, "g"), From: rapid.IntRange(0, 20).Draw(t, "from"), SD: rapid.SampledFrom([]float64{0, 0.1}).Draw(t, "sd")}
			l.Until = l.From + rapid.IntRange(1, 12).Draw(t, "hold")
			if rapid.Bool().Draw(t, "stirred") {
				l.IceG, l.IceSlot = l.G/4, max(0, l.From-1)
			}
			in.Stocks[k].Lots = append(slices.Clone(in.Stocks[k].Lots), l)
		}
	})
}

func BenchmarkTrialOfHundredWeekends(b *testing.B) {
	in, days := weekend(), Draw(1, 100)
	trial := days.Trial(in, ratesOf(in))
	b.ReportAllocs()
	for b.Loop() {
		trial.Cost(in.Stocks)
	}
}
