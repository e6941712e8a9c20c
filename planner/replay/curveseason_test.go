package replay

import (
	"bytes"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// The invented season from 15 June on, in the demo's shop at full prices of a missed drink: HOTDAY_SEASON is the number of days to replay,
// 2 unless set and 28 for the four weeks, which -update keeps in testdata/season.txt, and HOTDAY_CURVE a file for the chart. The replanned plan costs less
// than any par sheet, the best in hindsight included, and the plan of the evening less than the usual one.
func TestTheReplannedPlanBeatsTheBestParSheetInTheSeason(t *testing.T) {
	t.Parallel()
	const whole = 28
	o := Options{From: "2026-06-15", Days: 2, Budget: 40_000, Replan: true, Cushions: []float64{1, 1.2}}
	if v := os.Getenv("HOTDAY_SEASON"); v != "" {
		n, err := strconv.Atoi(v)
		require.NoError(t, err, "HOTDAY_SEASON is a number of days")
		o = Options{From: o.From, Days: n, Replan: true, NoChoices: true, Cushions: Cushions, ServiceLevels: []float64{50, 80, 95}}
		o.Progress = func(done, of int, _ models.Date) { t.Logf("day %d of %d", done, of) }
	}
	r := run(t, shopSeason(t, 42+max(whole, o.Days)), o)
	spans := r.Spans()
	all := &spans[len(spans)-1]
	best := r.of(all, r.BestPar())
	if o.Days >= whole {
		var text bytes.Buffer
		require.NoError(t, WriteText(&text, &r))
		t.Log("\n" + text.String())
		if *update {
			require.NoError(t, os.WriteFile("testdata/season.txt", text.Bytes(), 0o644))
		}
		if file := os.Getenv("HOTDAY_CURVE"); file != "" {
			var svg bytes.Buffer
			require.NoError(t, WriteCurveSVG(&svg, &r))
			require.NoError(t, os.WriteFile(file, svg.Bytes(), 0o644))
		}
	}
	for _, p := range r.Curve() {
		require.LessOrEqual(t, all.Figures[Foresight].Cost(), p.Figures.Cost(), p.Policy)
		if p.Method == Par {
			require.LessOrEqual(t, best.Cost(), p.Figures.Cost(), p.Policy)
		}
	}
	if o.Days >= whole { // two days prove nothing
		require.Less(t, all.Figures[Replanned].Cost(), best.Cost())
		require.Less(t, all.Figures[Plan].Cost(), all.Figures[Par].Cost())
	}
}
