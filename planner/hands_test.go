package planner

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

// shifts is a site with people on shift.
func shifts(rows ...models.OnShift) models.Site {
	s := small().Site
	s.ServeMin, s.People = 1.5, rows
	return s
}

func localDay(s *models.Site, hour, min int) time.Time {
	return time.Date(2026, 7, 11, hour, min, 0, 0, s.Location())
}

func TestFreeMinutesAreThoseOnShiftLessServing(t *testing.T) {
	t.Parallel()
	sat := models.Date("2026-07-11")
	s := shifts(models.OnShift{Weekday: "sat", From: "08:00", To: "10:00", OnShift: 2}, models.OnShift{Weekday: "sat", From: "09:00", To: "09:45", OnShift: 1})
	there := []models.Span{{From: localDay(&s, 7, 0), To: localDay(&s, 19, 0)}}
	now, from := localDay(&s, 8, 0), localDay(&s, 8, 0)
	h := newHands(&s, there, now, from, []float64{12, 38, 50, 0, 4}, 9, 0)
	assert.Equal(t, []float64{60, 60, 90, 75, 0}, h.onShift, "spans of a day add up")
	assert.Equal(t, []float64{18, 57, 75, 0, 6}, h.serving)
	assert.Equal(t, []float64{42, 3, 15, 75, 0}, h.free, "never below one batch an hour, and nothing when nobody is on shift")
	busy := shifts(models.OnShift{Weekday: "sat", From: "08:00", To: "10:00", OnShift: 1})
	assert.Equal(t, []float64{9, 2, 9, 2}, newHands(&busy, there, now, from, []float64{20, 20, 20, 20}, 9, 2).free, "one batch an hour, however many drinks are served")

	s.People = append(s.People, models.OnShift{Date: &sat, From: "08:15", To: "09:00", OnShift: 1})
	h = newHands(&s, there, localDay(&s, 8, 20), from, []float64{0, 0, 0}, 12, 0)
	assert.Equal(t, []float64{10, 30, 0}, h.onShift, "the date overrides its weekday; nobody works before now")
	assert.Equal(t, []float64{10, 30, 0}, h.free)

	late := []models.Span{{From: localDay(&s, 8, 30), To: localDay(&s, 19, 0)}}
	assert.Equal(t, []float64{0, 30, 0}, newHands(&s, late, now, from, []float64{0, 0, 0}, 12, 0).onShift, "nobody is on shift when nobody is there")

	s.People = []models.OnShift{{Weekday: "fri", From: "22:00", To: "01:00", OnShift: 1}}
	midnight := localDay(&s, 0, 0)
	h = newHands(&s, []models.Span{{From: midnight.Add(-time.Hour), To: midnight.Add(2 * time.Hour)}}, midnight, midnight, []float64{0, 0, 0}, 0, 0)
	assert.Equal(t, []float64{30, 30, 0}, h.onShift, "a shift past midnight is that of the day before")

	s.People = nil
	assert.Equal(t, hands{}, newHands(&s, there, now, from, []float64{1, 2}, 9, 0), "without people hands are not limited")
}

func TestOtherWorkIsKeptFreeButNotAllOfIt(t *testing.T) {
	t.Parallel()
	h := hands{onShift: []float64{30, 30, 60}, free: []float64{10, 0, 30}, kept: make([]float64, 3), floor: []float64{9, 0, 9}}
	h.keep(0, 3, 8)
	assert.InDeltaSlice(t, []float64{2, 0, 6}, h.kept, 1e-12)
	assert.InDelta(t, 9, h.forBatches(0), 1e-12, "one batch an hour comes first")
	assert.InDelta(t, 24, h.forBatches(2), 1e-12)
	h.keep(0, 3, 800)
	assert.InDeltaSlice(t, []float64{5, 0, 15}, h.kept, 1e-12, "at most half")

	r := small()
	r.Ice.Moulds = make([]models.MouldSet, 2)
	r.Water.ContainerL = 20
	assert.InDelta(t, 5+2*1+5*2*2+5*3, otherWork(&r, 1, 2, 41, 0), 1e-12, "count, beans, trays twice, three containers")
	r.Water.ContainerL = 0
	r.Site.IceWells = []models.IceWell{{Code: "left", HoldsG: 5000, CarryMin: 4}, {Code: "right", HoldsG: 5000, CarryMin: 6}}
	assert.InDelta(t, 5+2*1+5*2*2+5*2+6*2*2, otherWork(&r, 1, 2, 41, 12_000), 1e-12, "water once a day part, both wells filled twice")
}

func TestWorkFallsIntoTheHalfHoursOfItsTime(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 11, 10, 0, 0, 0, time.UTC)
	h := hands{from: at}
	use := make([]float64, 3)
	h.spread(use, at.Add(20*time.Minute), 40, 12)
	assert.InDeltaSlice(t, []float64{3, 9, 0}, use, 1e-9)
	h.spread(use, at.Add(28*time.Minute), 5, 5)
	assert.InDeltaSlice(t, []float64{5, 12, 0}, use, 1e-9)
	h.spread(use, at.Add(-10*time.Minute), 20, 8)
	assert.InDeltaSlice(t, []float64{9, 12, 0}, use, 1e-9)
}

// The store step of a batch of any size between the limits never needs more in a window than the search counts.
func TestAStepCountsItsMostOverTheSizesOfABatch(t *testing.T) {
	t.Parallel()
	for _, s := range []step{{from: 20, to: 44, takes: 5, work: 5}, {from: 33, to: 33, takes: 40, work: 12}, {from: 3, to: 9, takes: 0, work: 1}, {from: 50, to: 95, takes: 70, work: 70}} {
		for k := range 6 {
			a, b := float64(30*k), float64(30*k+30)
			most := s.mostIn(a, b)
			found := 0.0
			for x := s.from; x <= s.to+1e-9; x += 0.25 {
				part := 0.0
				eachPart(x, s.takes, 1, 30, func(cell int, m float64) {
					if cell == k {
						part += m
					}
				})
				assert.LessOrEqual(t, part, most+1e-9, "%+v at %g in window %d", s, x, k)
				found = max(found, part)
			}
			assert.InDelta(t, found, most, 0.06, "%+v in window %d", s, k)
		}
	}
}
