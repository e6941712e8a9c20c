package forecast

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// shop generates the history of a site: series of different sizes with effects of weekday, season, temperature and holidays and
// more than Poisson variance. It returns rows for past days and for the days ahead.
func shop(count, past, ahead int, seed uint64) ([]Past, []Ahead) {
	rng := rand.New(rand.NewPCG(seed, 1))
	var rows []Past
	var coming []Ahead
	temps := make([]float64, past+ahead)
	rain := make([]float64, past+ahead)
	for t := range temps {
		noise := 3 * rng.NormFloat64()
		if t > 0 {
			noise += 0.7 * (temps[t-1] - 13 + 11*math.Cos(2*math.Pi*float64(t-1)/365.25))
		}
		temps[t] = 13 - 11*math.Cos(2*math.Pi*float64(t)/365.25) + noise
		rain[t] = math.Max(0, 4*rng.NormFloat64())
	}
	first := models.Date("2024-01-15")
	for i := range count {
		level := math.Exp(1.5 + 2.5*rng.Float64())
		warm, week := 0.04*rng.Float64(), 0.4*rng.Float64()
		for t := range temps {
			date := first.AddDays(t)
			dow := int(date.Weekday())
			mu := level * math.Exp(warm*math.Max(temps[t]-15, 0)+week*math.Sin(float64(dow))-0.01*rain[t]+0.1*rng.NormFloat64())
			y := math.Max(0, math.Round(mu+math.Sqrt(mu+0.03*mu*mu)*rng.NormFloat64()))
			a := Ahead{SeriesKey: SeriesKey{Drink: fmt.Sprintf("s%02d", i)}, Date: date, Open: dow != 0 || i%3 > 0, Holiday: t%97 == 0, TempC: &temps[t], RainMM: &rain[t]}
			if t < past {
				rows = append(rows, Past{Ahead: a, Demand: &y})
			} else {
				coming = append(coming, a)
			}
		}
	}
	return rows, coming
}

func BenchmarkFirstFit(b *testing.B) {
	past, _ := shop(60, 730, 0, 1)
	b.ReportAllocs()
	for b.Loop() {
		_, err := Fit(context.Background(), past)
		require.NoError(b, err)
	}
}

func BenchmarkNightlyUpdate(b *testing.B) {
	past, _ := shop(60, 730, 0, 1)
	newest := past[729].Date
	var before []Past
	for _, p := range past {
		if p.Date < newest {
			before = append(before, p)
		}
	}
	st, err := Fit(context.Background(), before)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		_, err := st.Update(context.Background(), past)
		require.NoError(b, err)
	}
}

func BenchmarkThreeDaysAhead(b *testing.B) {
	past, ahead := shop(60, 730, 3, 1)
	st, err := Fit(context.Background(), past)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		st.Predict(ahead, scoredLevels)
	}
}

// BenchmarkStoredState writes and reads the state of sites with few and with many series over two years.
func BenchmarkStoredState(b *testing.B) {
	for _, count := range []int{7, 20, 48, 60} {
		b.Run(strconv.Itoa(count), func(b *testing.B) {
			past, _ := shop(count, 730, 0, 1)
			st, err := Fit(context.Background(), past)
			require.NoError(b, err)
			for b.Loop() {
				body, err := st.MarshalBinary()
				require.NoError(b, err)
				var again State
				require.NoError(b, again.UnmarshalBinary(body))
				b.ReportMetric(float64(len(body))/1024, "KiB")
			}
		})
	}
}
