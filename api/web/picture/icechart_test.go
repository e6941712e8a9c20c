package picture

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/say"
)

// contains is assert.Contains without printing the whole drawing.
func contains(t *testing.T, svg, text string) {
	t.Helper()
	assert.True(t, strings.Contains(svg, text), "the drawing should contain %q", text)
}

func TestAxisIsMonotonicWithNarrowNights(t *testing.T) {
	t.Parallel()
	r, p := sample()
	a := NewAxis(r.Site, p.ComputedAt, clock("2026-07-13", 0, 0), 100, 1300)
	assert.InDelta(t, 100, a.X(p.ComputedAt), 1e-9)
	assert.InDelta(t, 1300, a.X(clock("2026-07-13", 0, 0)), 1e-9)
	assert.InDelta(t, 100, a.X(p.ComputedAt.Add(-time.Hour)), 1e-9, "times before the axis are clamped")
	day := a.X(clock(saturday, 11, 0)) - a.X(clock(saturday, 10, 0))
	night := a.X(clock(saturday, 3, 0)) - a.X(clock(saturday, 2, 0))
	assert.InDelta(t, nightWeight, night/day, 1e-6)
	last := 0.0
	for at := p.ComputedAt; at.Before(clock("2026-07-13", 0, 0)); at = at.Add(10 * time.Minute) {
		require.Greater(t, a.X(at), last)
		last = a.X(at)
	}
}

func TestAxisOnADayOf25Hours(t *testing.T) {
	t.Parallel()
	r, _ := sample()
	from, to := clock("2026-10-25", 0, 0), clock("2026-10-26", 0, 0)
	require.Equal(t, 25*time.Hour, to.Sub(from))
	a := NewAxis(r.Site, from, to, 0, 1000)
	for at := from; at.Before(to); at = at.Add(time.Hour) {
		assert.Greater(t, a.X(at.Add(time.Hour)), a.X(at), "%s", at)
	}
}

func TestDrawingHasTextForEverythingShown(t *testing.T) {
	t.Parallel()
	r, p := sample()
	frames := Frames(r, p, 3, 1360, false)
	require.Len(t, frames, 2, "the eve, and the plan")
	eve := string(Lanes(r, p, frames[0]))
	svg := string(Weekend(r, p, frames[1])) + string(Lanes(r, p, frames[1])) + eve
	for _, text := range []string{"34\u202f°C at 16:00", "may run out 14:45, about 1 in 3", "Harbour flash · 5.0\u202fkg", "fill 18\u202fL", "get out 2.0\u202fkg harbour", "7.2\u202fkg by 11:30",
		"14:45 out of ice for drinks, 6.0\u202fkg short, chance 1 in 3", "77–125", ">96<", "out</text>", "lowest 2.7\u202fkg"} {
		contains(t, svg, text)
	}
	assert.NotContains(t, svg, " style=", "the content security policy forbids style attributes")
}

func TestNarrowFramesHaveOneDayEach(t *testing.T) {
	t.Parallel()
	r, p := sample()
	frames := Frames(r, p, 1, 360, true)
	require.Len(t, frames, 3, "the eve and both days of the plan")
	for i, f := range frames {
		assert.Equal(t, i == 0, f.Before)
		if i > 0 {
			assert.Equal(t, frames[i-1].To, f.From, "there are no gaps")
		}
	}
	assert.Equal(t, r.Site.DayEnd("2026-07-12"), frames[2].To)
}

func TestDaysBeforeThePlanHaveSeparateFrames(t *testing.T) {
	t.Parallel()
	r, p := sample()
	p.ComputedAt = clock(p.From.AddDays(-3), 15, 0)
	frames := Frames(r, p, 3, 1360, false)
	require.Len(t, frames, 2)
	assert.True(t, frames[0].Before)
	assert.Equal(t, p.ComputedAt, frames[0].From.UTC().In(p.ComputedAt.Location()))
	assert.False(t, frames[1].Before)
	assert.Equal(t, p.From, models.DateOf(frames[1].From, p.ComputedAt.Location()))
	assert.Equal(t, frames[0].To, frames[1].From)
}

func TestNamesAreEscaped(t *testing.T) {
	t.Parallel()
	r, p := sample()
	evil := `"><script>alert(1)</script>`
	r.Beverages[0].Name, r.Brewers[0].Code, r.Site.DayParts[0].Code = evil, evil, evil
	p.Batches[0].Brewer, p.Batches[0].Serves, p.Demand[0].DayPart, p.Warnings[0].Cause = evil, evil, evil, evil
	for _, f := range Frames(r, p, 3, 1360, false) {
		assert.NotContains(t, string(Weekend(r, p, f)), "<script")
	}
}

func TestWedgeSizeGrowsWithTheGrade(t *testing.T) {
	t.Parallel()
	assert.Less(t, weight(models.GradeNote), weight(models.GradeActToday))
	assert.Less(t, weight(models.GradeActToday), weight(models.GradeActNow))
	r, p := sample()
	wedges := 0
	for _, f := range Frames(r, p, 3, 1360, false) {
		wedges += strings.Count(string(Weekend(r, p, f)), `class="wedge"`)
	}
	assert.Equal(t, len(p.Warnings), wedges)
}

func TestEmptyPlan(t *testing.T) {
	t.Parallel()
	r, p := sample()
	empty := models.Plan{ComputedAt: p.ComputedAt, From: p.From, Days: p.Days}
	r.Weather, r.Brewers, r.Ice = nil, nil, models.Ice{}
	svg := string(Weekend(r, empty, Frames(r, empty, 3, 1360, false)[1]))
	contains(t, svg, "weather unknown")
	assert.NotContains(t, svg, "NaN")
	assert.NotContains(t, svg, "Inf")
}

func TestIceStripShowsTheCurrentLevel(t *testing.T) {
	t.Parallel()
	_, p := sample()
	svg := string(IceStrip(&p, clock(saturday, 6, 0), clock(saturday, 20, 0), clock(saturday, 7, 0), say.Metric(berlin), 1800, 120))
	contains(t, svg, "23.2\u202fkg now")
	contains(t, svg, "may run out 14:45, about 1 in 3")
	contains(t, svg, `class="now"`)
}
