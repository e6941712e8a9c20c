package picture

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestStripDotsDoNotOverlap(t *testing.T) {
	t.Parallel()
	s := Strip{Range: true, P10: 10, P50: 20, P90: 40, Past: []float64{20, 20, 20, 35, 5}, Max: 40}
	svg := string(s.Draw())
	dots := regexp.MustCompile(`M([\d.]+) ([\d.]+)h0`).FindAllString(svg, -1)
	require.Len(t, dots, 5)
	seen := map[string]bool{}
	for _, d := range dots {
		assert.False(t, seen[d], "%s overlaps another", d)
		seen[d] = true
	}
	assert.NotContains(t, svg, "word-mark")
	assert.Contains(t, svg, `aria-hidden="true"`)
}

func TestStripHandlesMissingAndExtremeValues(t *testing.T) {
	t.Parallel()
	word := math.Inf(1)
	for _, s := range []Strip{{}, {Max: 0, Past: []float64{0}}, {Manual: &word, Max: 1}, {Range: true, P10: -3, P90: 1e300, Max: 2}} {
		svg := string(s.Draw())
		assert.NotContains(t, svg, "NaN")
		assert.NotContains(t, svg, "Inf")
		if !s.Range {
			assert.NotContains(t, svg, `class="range"`)
		}
		assert.Equal(t, 1, strings.Count(svg, "</svg>"))
	}
}
