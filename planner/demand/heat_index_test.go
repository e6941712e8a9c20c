package demand

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHeatIndexMatchesTheCheckValues(t *testing.T) {
	t.Parallel()
	f, err := os.Open("../../testdata/checks/heat-index.csv") // computed; see the README beside it
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		var x [3]float64
		for i := range x {
			x[i], err = strconv.ParseFloat(row[i], 64)
			require.NoError(t, err)
		}
		assert.InDelta(t, x[2], HeatIndex(x[0], x[1]), 0.1, "%g °C, %g %%", x[0], x[1])
	}
}
