package forecast

import (
	"context"
	"encoding/csv"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

var scoredLevels = []float64{.1, .25, .5, .75, .9, .95}

func readHistory(t testing.TB, file string) []Past {
	t.Helper()
	f, err := os.Open("../../../testdata/demand/" + file)
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	number := func(s string) *float64 {
		if s == "" {
			return nil
		}
		x, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		return &x
	}
	past := make([]Past, 0, len(rows))
	for _, r := range rows[1:] {
		past = append(past, Past{Ahead: Ahead{Series: r[0], Date: models.Date(r[1]), Open: r[3] == "1", Holiday: r[4] == "1",
			TempC: number(r[5]), RainMM: number(r[6]), Humidity: number(r[7])}, Demand: number(r[2])})
	}
	return past
}

// score follows the protocol of the project's demand data: forecasts for seven days at a time from all data before, over the last
// quarter of dates; mean pinball loss over levels and open days relative to the series' mean demand, averaged over series. It
// also returns the share of days inside the 10–90 % range, days on the edge counted half.
func score7(t testing.TB, past []Past, from float64) (loss, inside float64, perSeries map[string]float64) {
	var dates []models.Date
	for _, p := range past {
		dates = append(dates, p.Date)
	}
	slices.Sort(dates)
	dates = slices.Compact(dates)
	type sum struct{ loss, demand, n, in float64 }
	sums := map[string]*sum{}
	for k := int(math.Ceil(from * float64(len(dates)))); k < len(dates); k += 7 {
		first, end := dates[k], dates[min(k+7, len(dates))-1]
		d := Document{Levels: scoredLevels}
		actual := map[string]float64{}
		for _, p := range past {
			switch {
			case p.Date < first:
				d.History = append(d.History, p)
			case p.Date <= end:
				d.Ahead = append(d.Ahead, p.Ahead)
				actual[p.Series+string(p.Date)] = *p.Demand
			}
		}
		a, err := Forecast(context.Background(), d)
		require.NoError(t, err)
		for i, r := range a.Rows {
			if !d.Ahead[i].Open {
				continue
			}
			s := sums[r.Series]
			if s == nil {
				s = &sum{}
				sums[r.Series] = s
			}
			y := actual[r.Series+string(r.Date)]
			for l, q := range r.Quantiles {
				if y >= q {
					s.loss += scoredLevels[l] * (y - q) / float64(len(scoredLevels))
				} else {
					s.loss += (1 - scoredLevels[l]) * (q - y) / float64(len(scoredLevels))
				}
			}
			s.demand += y
			s.n++
			switch lo, hi := r.Quantiles[0], r.Quantiles[4]; {
			case y > lo && y < hi:
				s.in++
			case y == lo || y == hi:
				s.in += .5
			}
		}
	}
	perSeries = map[string]float64{}
	for name, s := range sums {
		perSeries[name] = s.loss / s.demand
		loss += s.loss / s.demand / float64(len(sums))
		inside += s.in / s.n / float64(len(sums))
	}
	return loss, inside, perSeries
}

func TestScores(t *testing.T) {
	t.Parallel()
	from := .75
	if testing.Short() {
		from = .94 // the last weeks only: nothing is asserted that needs a season
	}
	for _, tc := range []struct {
		file string
		most float64
	}{{"yaz.csv", 0.0994}, {"bike-2011.csv", 0.0690}} {
		t.Run(tc.file, func(t *testing.T) {
			t.Parallel()
			loss, inside, per := score7(t, readHistory(t, tc.file), from)
			t.Logf("pinball/mean %.4f, inside 10–90 %% %.1f %%, by series %.4f", loss, 100*inside, slices.Sorted(maps.Values(per)))
			if testing.Short() {
				require.Less(t, loss, .3)
				return
			}
			require.LessOrEqual(t, loss, tc.most)
			require.InDelta(t, .80, inside, .04)
		})
	}
}
