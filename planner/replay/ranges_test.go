package replay

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// classCounts counts the elements of an SVG by class, and fails if it is not well formed or contains an invalid number.
func classCounts(t testing.TB, svg string) map[string]int {
	t.Helper()
	require.NotContains(t, svg, "NaN")
	require.NotContains(t, svg, "Inf")
	out := map[string]int{}
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		if e, ok := token.(xml.StartElement); ok {
			for _, a := range e.Attr {
				if a.Name.Local == "class" {
					out[a.Value]++
				}
			}
		}
	}
}

func TestRangesChart(t *testing.T) {
	t.Parallel()
	day := func(date string, temp float64, ranges ...RowRange) DayResult {
		return DayResult{Date: models.Date("2026-07-" + date), Open: len(ranges) > 0, TempC: temp, Ranges: ranges}
	}
	iced := func(part string, p10, p50, p90, asked float64) RowRange {
		return RowRange{DayPart: part, Drink: "Iced & long", P10: p10, P50: p50, P90: p90, Demand: asked}
	}
	r := &Result{Site: models.Site{Name: "Kiosk <1>"}, From: "2026-07-06", To: "2026-07-09", Days: []DayResult{
		day("06", 24, iced("noon", 0, 0, 0, 12), iced("late", 0, 0, 0, 3)), // no history yet
		day("07", math.NaN(), iced("noon", 10, 20, 40, 40), iced("late", 1, 3, 8, 9)),
		day("08", 31), // closed
		day("09", 33, iced("noon", 15, 25, 35, math.NaN()), iced("late", 0, 2, 5, 0)),
	}}
	var b bytes.Buffer
	require.NoError(t, WriteRangesSVG(&b, r))
	got := classCounts(t, b.String())
	require.Equal(t, 4, got["bar"], "no bar without a range")
	require.Equal(t, 4, got["mid"])
	require.Equal(t, 2, got["none"])
	require.Equal(t, 1, got["out"], "9, above 8")
	require.Equal(t, 2, got["in"], "an edge counts as inside, unknown demand is not drawn")
	require.Contains(t, b.String(), "Iced &amp; long, noon")
	require.Contains(t, b.String(), "33% of ranges (3) covered the demand", "half, none and half")

	b.Reset()
	require.NoError(t, WriteRangesSVG(&b, &Result{From: "2026-07-06", To: "2026-07-06"}))
	classCounts(t, b.String())
	require.Contains(t, b.String(), "Nothing to compare.")
}

// A new shop's first eight weeks: no range on the first day, wide ones at first, narrower ones at the end, with their nominal
// coverage.
func TestColdStartRangesNarrowAndCover(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	doc, err := os.ReadFile("../../testdata/demand/yaz.csv")
	require.NoError(t, err)
	s, err := ParseCSV(bytes.NewReader(doc), "yaz")
	require.NoError(t, err)
	r, err := Run(t.Context(), &s, Options{From: s.Days[0].Date, Days: 56, Budget: 1000})
	require.NoError(t, err)
	width := func(days []DayResult) float64 {
		wide, mid := 0.0, 0.0
		for i := range days {
			for _, x := range days[i].Ranges {
				wide, mid = wide+x.P90-x.P10, mid+x.P50
			}
		}
		return wide / mid
	}
	require.Zero(t, r.Days[0].Ranges[0].P90)
	require.Greater(t, width(r.Days[1:8]), 1.15*width(r.Days[49:]))
	covered, rows := 0.0, 0.0
	for _, d := range r.Days[1:] {
		covered, rows = covered+d.Inside, rows+d.Rows
	}
	require.InDelta(t, .84, covered/rows, .06, "%.0f ranges", rows)
}

func TestSpecialHoursAreReplayed(t *testing.T) {
	t.Parallel()
	s := toySeason(60, func(i int) float64 {
		if i == 40 || i == 57 {
			return 10
		}
		return 20
	})
	for _, i := range []int{40, 57} { // open for half of the day
		s.Site.Opening = append(s.Site.Opening, models.Opening{Date: &s.Days[i].Date, From: "10:00", To: "12:00"})
	}
	r := run(t, s, Options{From: s.Days[50].Date, Budget: 1000})
	for i, d := range r.Days {
		want := 20.0
		if i == 7 {
			want = 10
		}
		require.InDelta(t, want, d.Ranges[0].P50, 2, "%s", d.Date)
	}
}
