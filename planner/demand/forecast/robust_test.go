package forecast

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// checkAnswer fails on a missing row, a number that is not finite or negative, and quantiles that decrease.
func checkAnswer(t testing.TB, d Document, a Answer) {
	t.Helper()
	require.Len(t, a.Rows, len(d.Ahead))
	for i, r := range a.Rows {
		require.Equal(t, d.Ahead[i].Drink, r.Drink)
		require.Equal(t, d.Ahead[i].Date, r.Date)
		require.False(t, math.IsNaN(r.Mean) || math.IsInf(r.Mean, 0) || r.Mean < 0, "mean %g", r.Mean)
		require.Len(t, r.Quantiles, len(d.Levels))
		for k, q := range r.Quantiles {
			require.False(t, math.IsNaN(q) || math.IsInf(q, 0) || q < 0, "quantile %g", q)
			if k > 0 && d.Levels[k] >= d.Levels[k-1] {
				require.GreaterOrEqual(t, q, r.Quantiles[k-1])
			}
		}
		if !d.Ahead[i].Open {
			require.Zero(t, r.Mean)
			require.Zero(t, slices.Max(r.Quantiles))
		}
	}
}

func forecastOf(t testing.TB, d Document) Answer {
	t.Helper()
	require.NoError(t, d.Validate())
	a, err := Forecast(context.Background(), d)
	require.NoError(t, err)
	checkAnswer(t, d, a)
	return a
}

func shopDocument(count, past int) Document {
	p, a := shop(count, past, 5, 7)
	return Document{History: p, Ahead: a, Levels: scoredLevels}
}

func totalMean(a Answer) (total float64) {
	for _, r := range a.Rows {
		total += r.Mean
	}
	return total
}

// withHistory copies the document and its history, changed by f.
func withHistory(d Document, f func(i int, p *Past)) Document {
	d.History = slices.Clone(d.History)
	for i := range d.History {
		y := *d.History[i].Demand
		d.History[i].Demand = &y
		f(i, &d.History[i])
	}
	return d
}

func TestUnusualHistories(t *testing.T) {
	t.Parallel()
	d := shopDocument(3, 300)
	plain := forecastOf(t, d)
	for name, c := range map[string]struct {
		change func(d Document) Document
		note   NoteCode
		near   float64 // maximum factor of the mean either way, 0: any
	}{
		"gaps of weeks": {func(d Document) Document {
			return withHistory(d, func(i int, p *Past) {
				p.Open = p.Open && (i%300 < 150 || i%300 > 200) && (i%300 < 260 || i%300 > 281)
			})
		}, 0, 1.2},
		"no data for the last months": {func(d Document) Document {
			return withHistory(d, func(i int, p *Past) { p.Open = p.Open && (i%300 < 200 || p.Drink != "s00") })
		}, Stale, 1.5},
		"all zeros": {func(d Document) Document {
			return withHistory(d, func(_ int, p *Past) { *p.Demand = 0 })
		}, 0, 0},
		"one series all zeros": {func(d Document) Document {
			return withHistory(d, func(_ int, p *Past) {
				if p.Drink == "s01" {
					*p.Demand = 0
				}
			})
		}, 0, 0},
		"a mistaken million": {func(d Document) Document {
			return withHistory(d, func(i int, p *Past) {
				if i == 280 {
					*p.Demand = 1e6
				}
			})
		}, Capped, 1.15},
		"no weather": {func(d Document) Document {
			d = withHistory(d, func(_ int, p *Past) { p.TempC, p.RainMM = nil, nil })
			d.Ahead = slices.Clone(d.Ahead)
			for i := range d.Ahead {
				d.Ahead[i].TempC, d.Ahead[i].RainMM = nil, nil
			}
			return d
		}, NoTemps, 1.3},
		"no weather ahead": {func(d Document) Document {
			d.Ahead = slices.Clone(d.Ahead)
			for i := range d.Ahead {
				d.Ahead[i].TempC, d.Ahead[i].RainMM = nil, nil
			}
			return d
		}, DaysWithoutTemp, 1.3},
		"fractions": {func(d Document) Document {
			return withHistory(d, func(_ int, p *Past) { *p.Demand += .25 })
		}, 0, 1.1},
		"an empty history": {func(d Document) Document { d.History = nil; return d }, NoHistory, 0},
		"only closed days": {func(d Document) Document {
			return withHistory(d, func(_ int, p *Past) { p.Open, p.Demand = false, nil })
		}, NoHistory, 0},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			a := forecastOf(t, c.change(d))
			if c.note != 0 {
				assert.Contains(t, codes(a.Notes), c.note)
			}
			for _, n := range a.Notes {
				switch n.Code {
				case Stale, Capped:
					assert.Equal(t, "s00", n.Series)
					assert.Positive(t, n.Days)
				}
				if n.Code == Capped {
					assert.Equal(t, Note{Code: Capped, Series: "s00", Days: 1, Date: "2024-10-21"}, n)
				}
			}
			if c.near > 0 {
				assert.InDelta(t, 1, totalMean(a)/totalMean(plain), c.near-1)
			}
		})
	}
}

func TestAShortHistoryGivesAWideRange(t *testing.T) {
	t.Parallel()
	width := func(days int) float64 {
		d := shopDocument(2, 300)
		d.History, d.Ahead = d.History[600-days:], d.Ahead[5:] // the series that never closes
		a := forecastOf(t, d)
		require.Positive(t, a.Rows[0].Mean, "after %d days", days)
		if days < 80 {
			require.Contains(t, codes(a.Notes), ShortHistory)
		}
		width := 0.0
		for _, r := range a.Rows {
			width += (r.Quantiles[4] - r.Quantiles[0]) / r.Mean
		}
		return width
	}
	require.Greater(t, width(1), 1.2*width(28))
	require.Greater(t, width(28), width(300))
}

func TestAColdStartBorrowsFromTheOtherSeries(t *testing.T) {
	t.Parallel()
	d := shopDocument(4, 200)
	usual := 0.0
	for _, p := range d.History {
		usual += *p.Demand / float64(len(d.History))
	}
	d.Ahead[0].Drink = "new"
	d.Ahead[0].Open = true
	a := forecastOf(t, d)
	require.Contains(t, a.Notes, Note{Code: ColdStart, Series: "new"})
	require.InDelta(t, 1, a.Rows[0].Mean/usual, .8)
	require.Greater(t, a.Rows[0].Quantiles[4], 2*a.Rows[0].Quantiles[0])
}

func TestColdStartsBorrowFromKnownSeriesOnly(t *testing.T) {
	t.Parallel()
	d := shopDocument(4, 200)
	one := d.Ahead[0]
	one.Drink, one.Open = "new", true
	two := one
	two.Drink = "newer"
	d.Ahead = []Ahead{one}
	alone := forecastOf(t, d)
	d.Ahead = []Ahead{two, one}
	both := forecastOf(t, d)
	require.Equal(t, alone.Rows[0], both.Rows[1])
	require.Equal(t, alone.Rows[0].Quantiles, both.Rows[0].Quantiles)
	for _, name := range []string{"new", "newer"} {
		require.Contains(t, both.Notes, Note{Code: ColdStart, Series: name})
	}
	require.Greater(t, both.Rows[0].Quantiles[4], 2*both.Rows[0].Quantiles[0])
}

func TestAFirstHeatWaveIsExtrapolatedAndWidened(t *testing.T) {
	t.Parallel()
	d := shopDocument(3, 500)
	hottest := 0.0
	for _, p := range d.History {
		hottest = math.Max(hottest, *p.TempC)
	}
	at := func(temp float64) Day {
		d.Ahead = slices.Clone(d.Ahead[:1])
		d.Ahead[0].TempC, d.Ahead[0].Open = &temp, true
		a := forecastOf(t, d)
		if temp > hottest+.5 {
			require.Contains(t, codes(a.Notes), BeyondHistory)
		}
		return a.Rows[0]
	}
	seen, beyond := at(hottest), at(hottest+6)
	require.Greater(t, beyond.Mean, seen.Mean)
	require.Greater(t, (beyond.Quantiles[4]-beyond.Quantiles[0])/beyond.Mean, (seen.Quantiles[4]-seen.Quantiles[0])/seen.Mean)
}

func TestTheOrderOfRowsDoesNotMatter(t *testing.T) {
	t.Parallel()
	d := shopDocument(3, 200)
	want := forecastOf(t, d)
	rng := rand.New(rand.NewPCG(1, 2))
	d.History = slices.Clone(d.History)
	rng.Shuffle(len(d.History), func(i, j int) { d.History[i], d.History[j] = d.History[j], d.History[i] })
	slices.Reverse(d.Ahead)
	got := forecastOf(t, d)
	slices.Reverse(got.Rows)
	require.Equal(t, want.Rows, got.Rows)
}

// Demand after the origin is not in the history, and must not change the forecast.
func TestForecastsUseNoFutureDemand(t *testing.T) {
	t.Parallel()
	all, _ := shop(3, 260, 0, 3)
	short := .6
	for i := range all { // every kind of data that a day can have
		switch i % 260 % 29 {
		case 3:
			all[i].Event = "fair"
		case 11:
			all[i].OpenShare = &short
		}
	}
	issue := func(all []Past) Answer {
		first := models.Date("2024-01-15").AddDays(230)
		d := Document{Levels: scoredLevels}
		for _, p := range all {
			switch {
			case p.Date < first:
				d.History = append(d.History, p)
			case p.Date < first.AddDays(7):
				d.Ahead = append(d.Ahead, p.Ahead)
			}
		}
		return forecastOf(t, d)
	}
	want := issue(all)
	shuffled := withHistory(Document{History: all}, func(i int, p *Past) {
		if i%260 >= 230 {
			*p.Demand = float64((i * 7919) % 501)
		}
	})
	require.Equal(t, want, issue(shuffled.History))
}

// Nor may later demand within the history change the backtest of an earlier day.
func TestBacktestsUseNoLaterDemand(t *testing.T) {
	t.Parallel()
	past, _ := shop(2, 240, 0, 4)
	size := sizesFor(2, 240)
	size.backtestTrees = 5
	backtestsOf := func(past []Past) []backtest {
		st, all := newState(past)
		c := learnClimate(all, st.last)
		for _, s := range all {
			s.prepareRows(c.Use)
		}
		backtests, _, err := rollingBacktests(context.Background(), all, st.last, &c, size)
		require.NoError(t, err)
		return backtests
	}
	const from = 200
	changed := withHistory(Document{History: past}, func(i int, p *Past) {
		if i%240 >= from {
			*p.Demand = math.Round(*p.Demand * 1.7)
		}
	})
	want, got := backtestsOf(past), backtestsOf(changed.History)
	require.Len(t, got, len(want))
	seen := 0
	for i := range want {
		if want[i].Day < from {
			require.Equal(t, want[i], got[i])
			seen++
		}
	}
	require.Greater(t, seen, 100)
}

func TestForecastsScaleWithTheUnitOfDemand(t *testing.T) {
	t.Parallel()
	d := shopDocument(3, 280)
	one := forecastOf(t, d)
	ten := forecastOf(t, withHistory(d, func(_ int, p *Past) { *p.Demand *= 10 }))
	width := func(a Answer) (w float64) {
		for i, r := range a.Rows {
			if d.Ahead[i].Open {
				w += (r.Quantiles[4] - r.Quantiles[0]) / r.Mean
			}
		}
		return w
	}
	for i := range one.Rows {
		if d.Ahead[i].Open {
			require.InDelta(t, 10, ten.Rows[i].Mean/one.Rows[i].Mean, .2, "%s %s", one.Rows[i].Drink, one.Rows[i].Date)
		}
	}
	require.LessOrEqual(t, width(ten), width(one)*1.01)
}

func TestInvalidDocumentsNameTheField(t *testing.T) {
	t.Parallel()
	const good = `{"history":[{"series":"a","date":"2026-06-01","demand":12,"open":true,"holiday":false,"temp_c":21}],
		"ahead":[{"series":"a","date":"2026-06-02","open":true,"holiday":false}],"levels":[0.1,0.9]}`
	for _, c := range []struct{ from, to, pointer string }{
		{`[0.1,0.9]`, `[0.1,1]`, "/levels/1"},
		{`[0.1,0.9]`, `[-0.1]`, "/levels/0"},
		{`[0.1,0.9]`, `[]`, "/levels"},
		{`"demand":12`, `"demand":-1`, "/history/0/demand"},
		{`"demand":12,`, ``, "/history/0/demand"},
		{`"temp_c":21`, `"temp_c":2100`, "/history/0/temp_c"},
		{`"date":"2026-06-02"`, `"date":"2026-06-01"`, "/ahead/0"},
		{`"date":"2026-06-02"`, `"date":"2036-06-01"`, "/ahead/0/date"},
		{`"ahead":[{"series":"a"`, `"ahead":[{"series":""`, "/ahead/0/series"},
		{`"open":true`, `"opn":true`, "/history/0/opn"},
		{`"date":"2026-06-01"`, `"date":"2026-06-31"`, "/history/0/date"},
	} {
		body := strings.Replace(good, c.from, c.to, 1)
		require.NotEqual(t, good, body)
		_, err := Parse([]byte(body))
		var e *models.Error
		require.ErrorAs(t, err, &e, body)
		require.NotEmpty(t, e.Fields, body)
		require.Equal(t, c.pointer, e.Fields[0].Pointer)
	}
	d, err := Parse([]byte(good))
	require.NoError(t, err)
	require.Positive(t, forecastOf(t, d).Rows[0].Mean)
}

func FuzzForecast(f *testing.F) {
	f.Add([]byte(`{"history":[{"series":"a","date":"2026-06-01","demand":12,"open":true,"holiday":false,"temp_c":21},{"series":"b","date":"2026-05-01","demand":1e6,"open":true,"holiday":true}],
		"ahead":[{"series":"a","date":"2026-06-02","open":true,"holiday":false},{"series":"c","date":"2026-06-03","open":false,"holiday":true,"temp_c":40}],"levels":[0.1,0.9,0.999]}`))
	d := shopDocument(1, 70)
	body, err := json.Marshal(d)
	require.NoError(f, err)
	f.Add(body)
	f.Fuzz(func(t *testing.T, body []byte) {
		d, err := Parse(body)
		if err != nil {
			var e *models.Error
			require.ErrorAs(t, err, &e)
			return
		}
		if len(d.History) > 500 || len(d.Ahead) > 100 {
			return
		}
		a, err := Forecast(context.Background(), d)
		require.NoError(t, err)
		checkAnswer(t, d, a)
	})
}

func TestWeatherForecastErrorWidensTheRange(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 400, 1, 12)
	st, err := Fit(context.Background(), past)
	require.NoError(t, err)
	width := func(errorC float64, known bool) (w float64, basis []Note) {
		rows := slices.Clone(ahead)
		for i := range rows {
			rows[i].Open = true
			warm := 28.0
			if rows[i].TempC = &warm; !known {
				rows[i].TempC = nil
			}
		}
		for _, l := range st.PredictWithBasis(rows, []float64{errorC, errorC, errorC}, scoredLevels) {
			w += l.Quantiles[4] - l.Quantiles[0]
			basis = l.Basis
		}
		return w, basis
	}
	sure, basis := width(0, true)
	unsure, _ := width(6, true)
	require.Greater(t, unsure, sure)
	require.Equal(t, Weekdays, basis[0].Code)
	require.Equal(t, ahead[len(ahead)-1].Date.Weekday(), basis[0].Weekday)
	require.Greater(t, basis[0].Days, 10)
	at := slices.IndexFunc(basis, func(n Note) bool { return n.Code == TempEffect })
	require.GreaterOrEqual(t, at, 0)
	require.InDelta(t, 28, basis[at].TempC, 0)
	_, basis = width(0, false)
	require.Contains(t, basis, Note{Code: NoTempAhead})
}
