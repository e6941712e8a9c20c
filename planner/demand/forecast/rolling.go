package forecast

import (
	"context"
	"fmt"
	"math"
)

// trial is one past day forecast without what came after, beside what came.
type trial struct {
	View   view
	Series int
	Day    int // from the site's first day
	Y      float64
	Scale  float64
	Temp   float64
	Part   bool // the forests were not asked
}

// block is the number of days that one fit of the past forecasts; lags are renewed weekly within it, as forecasts are issued.
const block = 28

// judged is the share of the usual selling time that a day needs for the forecast to be judged by it: what a smaller one would have
// sold in all of it is too rough.
const judged = 0.8

// leastPast is the fewest days before the first origin.
const leastPast = 56

// rollingTrials fits the learners at earlier origins and forecasts the days after each. It also returns the last fit, to warm the
// next.
func rollingTrials(ctx context.Context, all []*series, last int, c *climate, size sizes) (trials []trial, before *fitted, err error) {
	for b := size.blocks; b >= 1; b-- {
		origin := last - b*block
		if origin < leastPast {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, nil, fmt.Errorf("forecast: %w", err)
		}
		grown := func(i int) bool { return (i+b)%size.oneIn == 0 }
		f := fit(all, origin, c.Use, work{trees: size.trialTrees, rows: size.trialRows, boosting: true, grow: grown, seed: uint64(b)}, before)
		for i, s := range all {
			if !grown(i) {
				f.Forests[i] = [2]*forest{}
			}
			for t := origin + 1; t <= origin+block; t++ {
				issued := origin + (t-origin-1)/7*7
				if one, ok := f.try(s, i, t, issued, c); ok {
					one.Part = !grown(i)
					trials = append(trials, one)
				}
			}
		}
		before = f
	}
	return trials, before, nil
}

// try forecasts a day that is known by now.
func (f *fitted) try(s *series, i, t, issued int, c *climate) (trial, bool) {
	if math.IsNaN(s.y[t]) || s.share[t] < judged || s.share[t] > 1/judged {
		return trial{}, false
	}
	v, ok := f.look(s, i, t, issued, c)
	return trial{View: v, Series: i, Day: t + s.since, Y: s.y[t], Scale: f.Scale[i], Temp: s.weather[wTemp][t]}, ok
}
