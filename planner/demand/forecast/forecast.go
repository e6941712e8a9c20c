package forecast

import (
	"context"
	"fmt"
	"math"

	"hotday/models"
)

// config is the size of the work: fits of the past, and trees of forests there and at the end.
type config struct {
	blocks     int
	trialTrees int
	trees      int
}

// sized keeps the work of a site within bounds: many series learn from one another and need fewer trees and trials each.
func sized(series, days int) config {
	rows := series * days
	switch {
	case rows < 8_000:
		return config{blocks: 6, trialTrees: 50, trees: 200}
	case rows < 20_000:
		return config{blocks: 4, trialTrees: 20, trees: 60}
	}
	return config{blocks: 3, trialTrees: 8, trees: 24}
}

// Forecast answers a document that was validated. It is deterministic; the order of rows does not matter. ctx only aborts.
func Forecast(ctx context.Context, d Document) (Answer, error) {
	all, use := build(d)
	a := Answer{Rows: make([]Day, 0, len(d.Ahead)), Notes: []string{}}
	last := -1
	for _, s := range all {
		last = max(last, s.last)
		if s.damped > 0 {
			a.Notes = append(a.Notes, fmt.Sprintf("%s: %d days lie many times beyond all others and were taken as less; look whether they are right", s.name, s.damped))
		}
	}
	if last < 0 {
		for _, r := range d.Ahead {
			a.Rows = append(a.Rows, Day{Series: r.Series, Date: r.Date, Quantiles: make([]float64, len(d.Levels))})
		}
		a.Notes = append(a.Notes, "there is no open day in the history: nothing can be said of demand")
		return a, nil
	}
	c := sized(len(all), last+1)
	trials := rollingTrials(all, last, use, c)
	if err := ctx.Err(); err != nil {
		return Answer{}, fmt.Errorf("forecast: %w", err)
	}
	now := fit(all, last, use, c.trees, 0, nil)
	site := calibrate(trials, len(all), now.regression.spread, hotEdge(all, last, use))
	if len(trials) < 30 {
		a.Notes = append(a.Notes, "the history is too short to test the forecast on: the ranges are a guess and will narrow with the weeks")
	}
	index := make(map[string]int, len(all))
	for i, s := range all {
		index[s.name] = i
	}
	for _, r := range d.Ahead {
		row := Day{Series: r.Series, Date: r.Date, Quantiles: make([]float64, len(d.Levels))}
		if r.Open {
			i := index[r.Series]
			t := all[i].first.DaysUntil(r.Date)
			q := site.rangeOf(now, all[i], i, t, min(all[i].last, t-1))
			for k, l := range d.Levels {
				row.Quantiles[k] = readLevel(q, l)
			}
			row.Mean = meanOfGrid(q)
		}
		a.Rows = append(a.Rows, row)
	}
	return a, nil
}

// calibration is what the trials taught: spreads, weights, widths.
type calibration struct {
	spread  [][2]float64
	weights [methodCount]float64
	plain   widths
	hot     widths
	hotFrom float64
}

func calibrate(trials []trial, count int, inside []float64, hotFrom float64) calibration {
	c := calibration{spread: spreads(trials, count, inside), hotFrom: hotFrom}
	mixed := make([][]float64, len(trials))
	for i := range trials {
		trials[i].spreadOut(c.spread[trials[i].series])
	}
	c.weights = learnWeights(trials)
	for i := range trials {
		mixed[i] = make([]float64, len(grid))
		trials[i].mix(c.weights, mixed[i])
	}
	c.plain = learnWidths(trials, mixed, func(t *trial) bool { return true }, widths{1, 1}, 100)
	c.hot = learnWidths(trials, mixed, func(t *trial) bool { return t.temp > hotFrom }, c.plain, 150)
	return c
}

// rangeOf is the quantiles on the grid of day t of series i as seen at the end of day o.
func (c *calibration) rangeOf(f *fitted, s *series, i, t, o int) []float64 {
	q := make([]float64, len(grid))
	v := f.look(i, t, o)
	if !v.known {
		return q
	}
	v.spreadOut(c.spread[i])
	v.mix(c.weights, q)
	w := c.plain
	if s.temp[t] > c.hotFrom {
		w = c.hot
	}
	w.stretch(q)
	for l := 1; l < len(q); l++ {
		q[l] = math.Max(q[l], q[l-1])
	}
	return q
}

// Calc is `calc forecast`: a document in, an answer out.
func Calc(body []byte) (any, error) {
	d, err := Parse(body)
	if err != nil {
		return nil, err
	}
	a, err := Forecast(context.Background(), d)
	if err != nil {
		return nil, models.Errorf(models.CodeInternal, "%v", err)
	}
	return a, nil
}
