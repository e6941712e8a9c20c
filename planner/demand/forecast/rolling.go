package forecast

import (
	"context"
	"fmt"
	"math"
)

// backtest is the forecast of one past day from the history before it, with its outcome.
type backtest struct {
	View   predictions
	Series int
	Day    int // from the site's first day
	Y      float64
	Scale  float64
	Temp   float64
	Part   bool // without forests
}

// blockDays is the number of days forecast by each fit of the past. Within it the lags are updated every week, as when forecasts
// are issued.
const blockDays = 28

// minScoredShare is the smallest share of the usual selling time on which a forecast is scored: scaled up from less, demand is
// too noisy.
const minScoredShare = 0.8

// minHistory is the fewest days before the first origin.
const minHistory = 56

// rollingBacktests fits the learners at earlier origins (rolling origin) and forecasts the days after each. It also returns the
// last fit, to warm-start the next.
func rollingBacktests(ctx context.Context, all []*series, last int, c *climate, size sizes) (backtests []backtest, previous *learners, err error) {
	for b := size.blocks; b >= 1; b-- {
		origin := last - b*blockDays
		if origin < minHistory {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, nil, fmt.Errorf("forecast: %w", err)
		}
		hasForest := func(i int) bool { return (i+b)%size.forestEvery == 0 }
		f := fitLearners(all, origin, c.Use, effort{trees: size.backtestTrees, rows: size.backtestRows, boosting: true, grow: hasForest, seed: uint64(b)}, previous)
		for i, s := range all {
			if !hasForest(i) {
				f.Forests[i] = [2]*forest{}
			}
			for t := origin + 1; t <= origin+blockDays; t++ {
				issued := origin + (t-origin-1)/7*7
				if bt, ok := f.backtestDay(s, i, t, issued, c); ok {
					bt.Part = !hasForest(i)
					backtests = append(backtests, bt)
				}
			}
		}
		previous = f
	}
	return backtests, previous, nil
}

// backtestDay forecasts day t as of day issued; ok is false if the day's demand is unknown or too noisy to score.
func (f *learners) backtestDay(s *series, i, t, issued int, c *climate) (bt backtest, ok bool) {
	if math.IsNaN(s.y[t]) || s.share[t] < minScoredShare || s.share[t] > 1/minScoredShare {
		return backtest{}, false
	}
	v, ok := f.predict(s, i, t, issued, c)
	return backtest{View: v, Series: i, Day: t + s.since, Y: s.y[t], Scale: f.Scale[i], Temp: s.weather[wTemp][t]}, ok
}
