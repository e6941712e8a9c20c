package planner

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func onDate(r models.PlanRequest, d models.Date, now time.Time) models.PlanRequest {
	r.From, r.Now = d, now
	for i := range r.Demand {
		r.Demand[i].Date = d
	}
	lot := &r.Coffees[0].Lots[0]
	lot.RoastedOn = d.AddDays(-14)
	for i := range r.Weather {
		r.Weather[i].At = now.Truncate(time.Hour).Add(time.Duration(i) * time.Hour)
	}
	return r
}

func TestADayOf23AndOf25Hours(t *testing.T) {
	t.Parallel()
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	for _, c := range []struct {
		date  models.Date
		hours int
	}{{"2026-03-28", 24}, {"2026-03-29", 23}, {"2026-10-25", 25}} {
		r := onDate(small(), c.date, c.date.At(0, berlin))
		h := newHorizon(&r)
		assert.Equal(t, c.hours*4, h.n, c.date)
		assert.Equal(t, c.date.AddDays(1).At(0, berlin), h.at(h.n), c.date)
		p := planOfRequest(t, r)
		require.NotEmpty(t, p.Batches)
		first := p.Batches[0]
		for _, b := range p.Batches {
			if b.Ready.Before(first.Ready) {
				first = b
			}
		}
		assert.Equal(t, "08:00", first.Ready.Format("15:04"), "ready when the shop opens by the clock on %s", c.date)
		assert.Equal(t, c.hours*4+1, len(p.Ice.Levels), c.date)
		assert.InDelta(t, 40, p.Demand[0].Mean, 1e-9, c.date)
	}
}

func TestASteepOverTheChangeOfClocksTakesItsHours(t *testing.T) {
	t.Parallel()
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	for _, d := range []models.Date{"2026-03-29", "2026-10-25"} {
		r := onDate(small(), d, d.AddDays(-1).At(15*60, berlin))
		hours := 14.0
		r.Beverages[0].Method, r.Beverages[0].SteepH, r.Beverages[0].IceShare, r.Beverages[0].HoldH = models.Steeped, &hours, 0, 24
		r.Brewers[0].BusyMin, r.Brewers[0].MaxBeverageG = 14*60, 18000
		p := planOfRequest(t, r)
		require.NotEmpty(t, p.Batches, d)
		for _, b := range p.Batches {
			assert.Equal(t, 14*time.Hour, b.StrainAt.Sub(b.Start), d)
			assert.Equal(t, d.AddDays(-1), b.Date, "begun the day before")
		}
	}
}

func TestAShopThatClosesAtOneServesIntoTheNight(t *testing.T) {
	t.Parallel()
	r := small()
	berlin := r.Site.Location()
	for i := range r.Site.Opening {
		r.Site.Opening[i].From, r.Site.Opening[i].To = "16:00", "01:00"
	}
	r.Site.DayParts = []models.DayPart{{Code: "am", From: "16:00", To: "22:00"}, {Code: "pm", From: "22:00", To: "01:00"}}
	p := planOfRequest(t, r)
	require.Len(t, p.Demand, 2)
	assert.InDelta(t, 40, p.Demand[1].Mean, 1e-9)
	closing := time.Date(2026, 7, 12, 1, 0, 0, 0, berlin)
	last := p.Ice.Levels[len(p.Ice.Levels)-1]
	assert.True(t, last.At.Equal(closing.Add(time.Hour)), "the horizon ends with the set-up time after closing: %s", last.At)
	for _, b := range p.Batches {
		assert.Equal(t, r.From, b.Date, "a batch after midnight belongs to the service day that began it")
	}
	served := map[string]bool{}
	for _, s := range p.Stock {
		if s.At.After(time.Date(2026, 7, 12, 0, 0, 0, 0, berlin)) && s.At.Before(closing) {
			served[s.Beverage] = true
		}
	}
	assert.NotEmpty(t, served, "stock falls after midnight")
}

func TestNowIsRoundedUpAndTheDigestWithIt(t *testing.T) {
	t.Parallel()
	a, b, c := small(), small(), small()
	a.Now = a.Now.Add(3*time.Minute + 20*time.Second)
	b.Now = b.Now.Add(15 * time.Minute)
	c.Now = c.Now.Add(16 * time.Minute)
	pa, pb, pc := planOfRequest(t, a), planOfRequest(t, b), planOfRequest(t, c)
	assert.Equal(t, pa.Digest, pb.Digest)
	assert.NotEqual(t, pb.Digest, pc.Digest)
	assert.Equal(t, a.Now, pa.ComputedAt)
	pa.ComputedAt = pb.ComputedAt
	assert.Equal(t, pb, pa, "one digest, one plan")
}

func TestSlotsFollowTheLocalClockInOddZones(t *testing.T) {
	t.Parallel()
	r := small()
	r.Site.Timezone, r.Site.SlotMin = "Asia/Kathmandu", 60 // 5:45 ahead
	h := newHorizon(&r)
	assert.Equal(t, 0, h.at(0).Minute())
	planOfRequest(t, r)
}
