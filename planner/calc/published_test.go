package calc

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// testdata/checks/published.json: published values, values by hand and common practice, each with its source beside it.
func TestPublishedValues(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile("../../testdata/checks/published.json")
	require.NoError(t, err)
	var rows []struct {
		Kind   string                `json:"kind"`
		In     json.RawMessage       `json:"in"`
		Want   map[string][2]float64 `json:"want"` // value and what it may be off
		Source string                `json:"source"`
	}
	require.NoError(t, json.Unmarshal(data, &rows))
	require.NotEmpty(t, rows)
	for _, row := range rows {
		require.NotEmpty(t, row.Source)
		out := answer(t, row.Kind, string(row.In))
		for name, want := range row.Want {
			var got any = out
			for _, part := range strings.Split(name, ".") {
				got = got.(map[string]any)[part]
			}
			x, ok := got.(float64)
			require.True(t, ok, "%s %s", row.Kind, name)
			assert.LessOrEqual(t, math.Abs(x-want[0]), want[1]+1e-9, "%s %s: %g for %g (%s)", row.Kind, name, x, want[0], row.Source)
			t.Logf("%s %s: %.4g, wanted %g ± %g (%s)", row.Kind, name, x, want[0], want[1], row.Source)
		}
	}
}
