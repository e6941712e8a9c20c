package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func forecastRange(mean, p10, p50, p90 float64) Range {
	return FromForecast(models.Forecast{Mean: mean, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{p10, p50, p90}})
}

func TestRangeOfASumIsNarrowerThanTheSumOfRangesAndWiderThanIndependence(t *testing.T) {
	t.Parallel()
	rows := make([]Range, 6)
	for i := range rows {
		rows[i] = forecastRange(100, 70, 98, 133)
	}
	p10, p50, p90 := SumQuantiles(rows, DefaultCorrelation())
	require.Greater(t, p10, 6*70.0)
	require.Less(t, p90, 6*133.0)
	require.InDelta(t, 6*99, p50, 12)
	independent10, _, independent90 := SumQuantiles(rows, Correlation{})
	require.Less(t, p10, independent10)
	require.Greater(t, p90, independent90)
	width := 133.0 - 70
	require.InDelta(t, width*math.Sqrt(6), independent90-independent10, 0.1*width*math.Sqrt(6), "of independent rows the squares of the widths add up")
	full10, _, full90 := SumQuantiles(rows, Correlation{Day: 1})
	require.Less(t, full10, p10)
	require.Greater(t, full90, p90)
}

func TestRangeOfASumOfOneRowIsItsOwn(t *testing.T) {
	t.Parallel()
	p10, p50, p90 := SumQuantiles([]Range{{}, forecastRange(20, 12, 19, 30)}, DefaultCorrelation())
	require.InDelta(t, 12, p10, 1e-9)
	require.InDelta(t, 19, p50, 1e-9)
	require.InDelta(t, 30, p90, 1e-9)
	p10, p50, p90 = SumQuantiles(nil, DefaultCorrelation())
	require.Zero(t, p10+p50+p90)
}
