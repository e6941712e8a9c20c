package risk

import (
	"context"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// left is one beverage with a batch in the bath, and one that is decided at a look.
func left() Input {
	in := oneDrink(40, 3000)
	in.Slots = 12
	in.Rows[0].Share = flat(9)
	in.Stocks[0].Lots = append(in.Stocks[0].Lots, Lot{G: 1000, From: 7, Begun: 4, Until: 12}, Lot{G: 2000, From: 8, Begun: 6, Until: 12, IceFlow: 0, IceG: 500, IceSlot: 7})
	in.Stocks[0].Lots[0].Until = 12
	in.Flows = []Flow{{Key: "ice", Opening: 400, Exact: true, Capacity: 1000}}
	in.Choices = []Choice{{Stock: 0, Lot: 2, Slot: 6, Below: []float64{1500, 2500}, Shares: []float64{1, 0.5, 0}, Costs: []float64{300, 200, 0}}}
	in.Prices = &Prices{Missed: []float64{100}, NoIce: []float64{100}, Disposal: []float64{0.1}}
	return in
}

func TestAChoiceIsMadeByWhatIsLeft(t *testing.T) {
	t.Parallel()
	in := left()
	r := simulate(t, in, 2000)
	d := r.Decided[0]
	count := make([]float64, 3)
	for _, g := range d.Seen {
		assert.LessOrEqual(t, g, 4000.0, "what is in the bath counts, the batch itself does not")
		switch {
		case g < 1500:
			count[0]++
		case g < 2500:
			count[1]++
		default:
			count[2]++
		}
	}
	for k := range count {
		require.Positive(t, count[k])
		assert.InDelta(t, count[k]/2000, d.Options[k], 1e-9)
	}
	never := in
	never.Choices = slices.Clone(in.Choices)
	never.Choices[0].Below, never.Choices[0].Shares, never.Choices[0].Costs = nil, []float64{0}, []float64{0}
	none := simulate(t, never, 2000)
	assert.Zero(t, none.Flows[0].All.Chance, "a batch that is not brewed takes no ice")
	assert.Greater(t, none.Missed[0], r.Missed[0])
	assert.Less(t, none.WasteG[0], r.WasteG[0])
	always := in
	always.Choices = nil
	all := simulate(t, always, 2000)
	assert.Equal(t, 1.0, all.Flows[0].All.Chance, "the whole batch lacks ice")
	assert.Less(t, all.Missed[0], r.Missed[0])
}

// The account of a run is the sum of its parts: the options taken, missed drinks and what is thrown away.
func TestTheAccountOfEachRun(t *testing.T) {
	t.Parallel()
	in := left()
	r := simulate(t, in, 500)
	sum := 0.0
	for _, x := range r.Costs {
		sum += x / 500
	}
	want := 100*r.Missed[0] + 0.1*r.WasteG[0]
	for k, share := range r.Decided[0].Options {
		want += share * in.Choices[0].Costs[k]
	}
	assert.InDelta(t, want, sum, 1e-6)
	in.Prices = nil
	assert.Nil(t, simulate(t, in, 500).Costs)
}

// Options runs all options from one simulation up to the look; each must be what it is alone.
func TestOptionsAreWhatTheyAreAlone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawDays(t)
		in.Stocks[0].Lots = append(in.Stocks[0].Lots, Lot{G: 3000, From: 14, Begun: 10, Until: 24})
		lot := len(in.Stocks[0].Lots) - 1
		in.Prices = &Prices{Disposal: []float64{0.2}}
		for range in.Drinks {
			in.Prices.Missed, in.Prices.NoIce = append(in.Prices.Missed, 150), append(in.Prices.NoIce, 250)
		}
		in.Choices = []Choice{{Stock: 0, Lot: lot, Slot: rapid.IntRange(0, 10).Draw(t, "look"), Below: []float64{1000, 2000}, Shares: []float64{1, 0.4, 0}, Costs: []float64{30, 20, 0}}}
		seen, costs, err := Draw(5, 60).Options(context.Background(), in, 0)
		require.NoError(t, err)
		for k := range costs {
			alone := in
			alone.Choices = slices.Clone(in.Choices)
			c := &alone.Choices[0]
			c.Below, c.Shares, c.Costs = nil, c.Shares[k:k+1], c.Costs[k:k+1]
			r, err := Simulate(context.Background(), alone, 5, 60)
			require.NoError(t, err)
			require.Equal(t, r.Costs, costs[k])
			require.Equal(t, r.Decided[0].Seen, seen)
		}
	})
}
