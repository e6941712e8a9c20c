package calc

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// forecastDocument has 30 days of 20 servings of a, and asks for the next day of each series.
func forecastDocument(series ...string) string {
	var history, ahead []string
	for d := 1; d <= 30; d++ {
		history = append(history, fmt.Sprintf(`{"series":"a","date":"2026-06-%02d","demand":20,"open":true,"holiday":false}`, d))
	}
	for _, s := range series {
		ahead = append(ahead, fmt.Sprintf(`{"series":%q,"date":"2026-07-01","open":true,"holiday":false}`, s))
	}
	return fmt.Sprintf(`{"history":[%s],"ahead":[%s],"levels":[0.1,0.5,0.9]}`, strings.Join(history, ","), strings.Join(ahead, ","))
}

func TestCalcForecastOfSeveralSeriesWithoutHistory(t *testing.T) {
	t.Parallel()
	out := answer(t, "forecast", forecastDocument("a", "b", "c"))
	rows := out["rows"].([]any)
	require.Len(t, rows, 3)
	alone := answer(t, "forecast", forecastDocument("b"))["rows"].([]any)
	for i, name := range []string{"b", "c"} {
		row := rows[i+1].(map[string]any)
		assert.Equal(t, name, row["series"])
		assert.InDelta(t, 20, row["mean"], 6, "%s: the mean of the series with history", name)
		q := row["quantiles"].([]any)
		assert.Greater(t, q[2].(float64), 3*q[0].(float64), "%s: a wide range", name)
		assert.Equal(t, alone[0].(map[string]any)["quantiles"], row["quantiles"], "%s: other new series change nothing", name)
		assert.Contains(t, out["notes"], name+": no data yet: guessed from the others, wide range")
	}
}
