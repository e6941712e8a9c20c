package replay

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
)

// CSVColumns are the columns of [WriteCSV]. Money is in minor units of the site's currency; drinks_missed is in servings;
// inside_10_90 is how many of the plan's ranges covered the demand, edges counted half, out of ranges.
var CSVColumns = []string{"date", "weekday", "open", "temp_c", "method", "drinks_asked", "cost", "cost_above_foresight", "cost_with_all_coffee",
	"batches", "batch_cost", "coffee_poured", "disposal", "aging", "lost_contribution", "poured_g", "drinks_missed", "ice_short_h", "ranges", "inside_10_90"}

// WriteCSV writes a row for each day and policy.
func WriteCSV(w io.Writer, r *Result) error {
	c := csv.NewWriter(w)
	if err := c.Write(CSVColumns); err != nil {
		return err
	}
	for i := range r.Days {
		d := &r.Days[i]
		for _, m := range r.Methods {
			if err := c.Write(d.record(Policy{Method: m}, &d.Figures[m])); err != nil {
				return err
			}
		}
		for k, p := range r.Points {
			if err := c.Write(d.record(p, &d.Points[k])); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

func (d *DayResult) record(p Policy, f *Figures) []string {
	open, temp, ranges, held := "0", "", "", ""
	if d.Open {
		open = "1"
	}
	if !math.IsNaN(d.TempC) {
		temp = decimal(d.TempC)
	}
	if p == (Policy{Method: Plan}) {
		ranges, held = decimal(d.Rows), decimal(d.Inside)
	}
	return []string{string(d.Date), d.Date.Weekday().String()[:3], open, temp, p.String(), decimal(f.Demand), decimal(f.Cost()),
		decimal(f.Cost() - d.Figures[Foresight].Cost()), decimal(f.Total()), strconv.Itoa(f.Batches), decimal(f.BatchCost), decimal(f.PouredCoffee),
		decimal(f.Disposal), decimal(f.Aging), decimal(f.Lost), decimal(f.PouredG), decimal(f.Missed), decimal(f.IceShortH), ranges, held}
}

// decimal writes at most two decimals and no trailing zeros.
func decimal(x float64) string {
	x = math.Round(x*100) / 100
	if x == 0 {
		x = 0 // not −0
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}
