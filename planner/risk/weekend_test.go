package risk

import (
	"context"
	"fmt"
	"testing"

	"hotday/models"
	"hotday/planner/demand"
)

// fixed is an expected demand without spread.
func fixed(expected float64) models.Demand {
	return models.Demand{Expected: expected, P10: &expected, P90: &expected}
}

// weekend is two days with 12 drinks in 5 day parts, 4 beverages in 4 batches each, and ice for drinks from two machines.
func weekend() Input {
	in := Input{Slots: 228, Assume: DefaultAssumptions(), Days: []Day{{Until: 132, AheadDays: 1}, {Until: 228, AheadDays: 2}}}
	for b := range 4 {
		st := Stock{}
		for l := range 4 {
			st.Lots = append(st.Lots, Lot{G: 15000, From: 60 + 40*l, Until: 102 + 40*l + b, IceG: 1200, IceSlot: 58 + 40*l})
		}
		in.Stocks = append(in.Stocks, st)
	}
	makes := make([]float64, 228)
	for i := range makes {
		makes[i] = 300
	}
	in.Flows = []Flow{{Key: "ice", Opening: 20000, CountAgeH: 2, Capacity: 50000, LossPerSlot: 0.002,
		Makers: []Maker{{Key: "a", G: makes, PerC: -0.015, SD: -1}, {Key: "b", G: makes[:100], PerC: -0.015, SD: -1}}}}
	for k := range 12 {
		in.Drinks = append(in.Drinks, Drink{Stocks: []Take{{k % 4, 180}}, Flows: []Take{{0, 140}}})
	}
	for d := range 2 {
		for part := range 5 {
			for k := range 12 {
				in.Rows = append(in.Rows, Row{Key: fmt.Sprint(d, part, k), Drink: k, Day: d,
					Range: demand.Guess(2.5 + 1.5*float64(k)), Slot: 60 + 96*d + 10*part, Share: flat(10)})
			}
		}
	}
	return in
}

func BenchmarkThousandWeekends(b *testing.B) {
	in := weekend()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Simulate(context.Background(), in, 1, 1000); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkThousandWeekendsDrawnBefore(b *testing.B) {
	in, days := weekend(), Draw(1, 1000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := days.Simulate(context.Background(), in); err != nil {
			b.Fatal(err)
		}
	}
}
