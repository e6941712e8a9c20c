package web_test

import (
	"context"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

var (
	deleteKey   = regexp.MustCompile(`name="back" value="([^"]*)"`)
	changeLinks = regexp.MustCompile(`href="(/s/lido/known/\w+\?of=[^"]*)"`)
)

func berlin(t *testing.T, date models.Date, hour, minute int) time.Time {
	t.Helper()
	loc, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	return date.At(60*hour+minute, loc).UTC()
}

// fill fills in a form and submits it.
func (v *visitor) fill(kind, page string, input map[string]string) (int, string) {
	v.t.Helper()
	f := typed(page)
	for name, value := range input {
		f.Set("/"+kind+"/"+name, value)
	}
	return v.post("/s/lido/known/"+kind, f)
}

func TestEventsAreAddedChangedAndDeleted(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	setup, _ := s.setup(t)
	v, ctx := s.visit(t), context.Background()
	day := func(hour int) time.Time { return berlin(t, saturday, hour, 0) }
	brewer := setup.Brewers[0].Code
	assert.Contains(t, v.get("/s/lido/known"), "Nothing yet.")

	for _, x := range []struct {
		kind  string
		typed map[string]string
		says  []string
	}{
		{"event", map[string]string{"name": "Street fair", "from": "2026-07-11T12:00", "to": "2026-07-11T18:00", "factor": "1,4"}, []string{"Saturday 11 July 12:00–18:00", "Event: Street fair. 40% busier than usual"}},
		{"holiday", map[string]string{"name": "Lake day", "from": "2026-07-13", "to": "2026-07-13", "factor": "1"}, []string{"Monday 13 July", "Public holiday: Lake day. Effect as on similar past days"}},
		{"closed", map[string]string{"name": "stocktaking", "from": "2026-07-14T06:00", "to": "2026-07-15T12:00"}, []string{"Tuesday 14 July 06:00 to Wednesday 15 July 12:00", "closed: stocktaking"}},
		{"outage", map[string]string{"what": "brewer " + brewer, "from": "2026-07-11T08:00", "to": "2026-07-11T10:00"}, []string{"Saturday 11 July 08:00–10:00", "Brewer " + brewer + " out of order."}},
		{"attention", map[string]string{"starts": "0", "from": "2026-07-11T13:00", "to": "2026-07-11T14:00"}, []string{"Nobody is free to brew."}},
		{"off_sale", map[string]string{"drink": setup.Drinks[0].Code, "from": "2026-07-11T06:00", "to": ""}, []string{"From Saturday 11 July 06:00 until further notice", "off sale. Still prepared"}},
	} {
		status, page := v.fill(x.kind, v.get("/s/lido/known/"+x.kind), x.typed)
		require.Equal(t, http.StatusOK, status, x.kind)
		for _, text := range append(x.says, "Saved.") {
			assert.Contains(t, page, text, x.kind)
		}
	}
	events, err := s.store.Events(ctx, site, day(0), day(24*10))
	require.NoError(t, err)
	require.Len(t, events, 3)
	assert.Equal(t, models.Event{Name: "Street fair", From: day(12), To: day(18), Factor: 1.4}, events[0])
	assert.Equal(t, models.Event{Name: "Lake day", From: day(48), To: day(72), Factor: 1, Kind: models.HolidayKind}, events[1])
	assert.Equal(t, models.Event{Name: "stocktaking", From: day(78), To: day(108), Factor: 1, Closed: true}, events[2])
	away, err := s.store.Outages(ctx, site, day(0), day(24))
	require.NoError(t, err)
	assert.Equal(t, []models.Outage{{Kind: "brewer", Code: brewer, From: day(8), To: day(10)}}, away)
	hands, err := s.store.Attention(ctx, site, day(0), day(24))
	require.NoError(t, err)
	assert.Equal(t, []models.Attention{{From: day(13), To: day(14), Starts: 0}}, hands)

	// In chronological order across kinds.
	page := v.get("/s/lido/known")
	last := 0
	for _, text := range []string{"off sale.", "out of order.", "Street fair", "Nobody is free", "Lake day", "stocktaking"} {
		at := strings.Index(page, text)
		assert.Greater(t, at, last, text)
		last = at
	}

	// Each can be changed, its name and start too, without leaving the old row behind.
	for _, m := range changeLinks.FindAllStringSubmatch(page, -1) {
		address := html.UnescapeString(m[1])
		kind := strings.TrimPrefix(address[:strings.Index(address, "?")], "/s/lido/known/")
		change := map[string]string{"from": "2026-07-11T09:00"}
		switch kind {
		case "holiday":
			change = map[string]string{"from": "2026-07-12", "to": "2026-07-12"}
		case "event":
			change["name"] = "Town fair"
		case "closed":
			change["from"] = "2026-07-14T07:00"
		}
		status, page := v.fill(kind, v.get(address), change)
		require.Equal(t, http.StatusOK, status, kind)
		require.Contains(t, page, "Saved.", kind)
	}
	page = v.get("/s/lido/known")
	assert.Len(t, changeLinks.FindAllString(page, -1), 6)
	assert.NotContains(t, page, "Street fair")
	assert.Contains(t, page, "Town fair")
	assert.Contains(t, page, "Saturday 11 July 09:00–14:00")

	// All are deleted.
	for _, m := range deleteKey.FindAllStringSubmatch(page, -1) {
		status, after := v.post("/s/lido/known", url.Values{"back": {html.UnescapeString(m[1])}})
		require.Equal(t, http.StatusOK, status, after)
	}
	assert.Contains(t, v.get("/s/lido/known"), "Nothing yet.")
	status, page := v.post("/s/lido/known", url.Values{"back": {"event 1 2 nothing"}})
	assert.Equal(t, http.StatusNotFound, status)
	assert.Contains(t, page, "edited or removed this")
}

func TestEventErrorsAreShownAtTheirField(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	setup, _ := s.setup(t)
	v := s.visit(t)
	at := func(page, pointer string) string {
		_, rest, _ := strings.Cut(page, `data-for="`+pointer+`">`)
		text, _, _ := strings.Cut(rest, "</span>")
		return html.UnescapeString(text)
	}
	for _, x := range []struct {
		kind, field, says string
		typed             map[string]string
	}{
		{"event", "/event/to", "Enter a time after Saturday 11 July 12:00.", map[string]string{"name": "fair", "from": "2026-07-11T12:00", "to": "2026-07-11T12:00"}},
		{"event", "/event/factor", "Enter a number.", map[string]string{"name": "fair", "from": "2026-07-11T12:00", "to": "2026-07-11T13:00", "factor": "much"}},
		{"event", "/event/factor", "100", map[string]string{"name": "fair", "from": "2026-07-11T12:00", "to": "2026-07-11T13:00", "factor": "1000"}},
		{"event", "/event/from", "Enter a time such as", map[string]string{"name": "fair", "from": "noon", "to": "2026-07-11T13:00"}},
		{"outage", "/outage/what", "Fill this in.", map[string]string{"from": "2026-07-11T12:00", "to": "2026-07-11T13:00"}},
		{"outage", "/outage/what", "Choose equipment.", map[string]string{"what": "brewer none", "from": "2026-07-11T12:00", "to": "2026-07-11T13:00"}},
		{"outage", "/outage/to", "Enter a time after", map[string]string{"what": "brewer " + setup.Brewers[0].Code, "from": "2026-07-11T12:00", "to": "2026-07-11T12:00"}},
		{"attention", "/attention/starts", "100", map[string]string{"starts": "101", "from": "2026-07-11T12:00", "to": "2026-07-11T13:00"}},
		{"off_sale", "/off_sale/drink", "Choose a drink.", map[string]string{"drink": "tea", "from": "2026-07-11T12:00"}},
		{"holiday", "/holiday/to", "Fill this in.", map[string]string{"name": "Lake day", "from": "2026-07-12", "to": ""}},
	} {
		status, page := v.fill(x.kind, v.get("/s/lido/known/"+x.kind), x.typed)
		assert.Equal(t, http.StatusUnprocessableEntity, status, "%s %v", x.kind, x.typed)
		assert.Contains(t, at(page, x.field), x.says, "%v", x.typed)
		for name, value := range x.typed {
			if f := typed(page); f.Has("/" + x.kind + "/" + name) {
				assert.Equal(t, value, html.UnescapeString(f.Get("/"+x.kind+"/"+name)), "the input is kept")
			}
		}
	}
	assert.Contains(t, v.get("/s/lido/known"), "Nothing yet.", "nothing is stored")
	_, page := v.fill("event", v.get("/s/lido/known/event"), map[string]string{"name": "fair", "from": "2026-07-11T12:00", "to": "2026-07-11T13:00"})
	other := html.UnescapeString(changeLinks.FindStringSubmatch(page)[1])
	for _, path := range []string{"/s/lido/known/party", "/s/lido/known/event?of=none", strings.Replace(other, "/event?", "/outage?", 1)} {
		r, err := v.http.Get(s.base + path)
		require.NoError(t, err)
		require.NoError(t, r.Body.Close())
		assert.Equal(t, http.StatusNotFound, r.StatusCode, path)
	}
}

// Events added or changed after planning are flagged until the next plan.
func TestPlanIsFlaggedAsOutOfDate(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	setup, _ := s.setup(t)
	v := s.visit(t)
	plan := func() {
		r, err := http.NewRequest(http.MethodPost, s.base+"/v1/sites/lido/plans", strings.NewReader(`{"from":"2026-07-11","days":1}`))
		require.NoError(t, err)
		r.Header.Set("Authorization", "Bearer "+s.key)
		r.Header.Set("Content-Type", "application/json")
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		require.Equal(t, http.StatusCreated, answer.StatusCode)
	}
	away := map[string]string{"what": "brewer " + setup.Brewers[0].Code, "from": "2026-07-11T08:00", "to": "2026-07-11T10:00"}
	_, page := v.fill("outage", v.get("/s/lido/known/outage"), away)
	assert.NotContains(t, page, "Not in the plan yet", "there is no plan")
	plan()
	assert.NotContains(t, v.get("/s/lido/known"), "is missing some of this")
	_, page = v.fill("event", v.get("/s/lido/known/event"), map[string]string{"name": "fair", "from": "2026-07-11T12:00", "to": "2026-07-11T18:00", "factor": "1.4"})
	assert.Contains(t, page, "Plan 1, made")
	weekend := v.get("/s/lido/weekend")
	assert.Contains(t, weekend, "Events have changed: plan again.")
	assert.Contains(t, weekend, "<b>Saturday 11 July 12:00–18:00</b>: Event: fair. 40% busier than usual. <b>Not in the plan yet.</b>")
	assert.Contains(t, weekend, "<b>Saturday 11 July 08:00–10:00</b>: Brewer "+setup.Brewers[0].Code+" out of order.</li>")
	assert.Equal(t, 1, strings.Count(page, "Not in the plan yet."))
	_, page = v.fill("event", v.get("/s/lido/known/event"), map[string]string{"name": "match", "from": "2026-07-18T12:00", "to": "2026-07-18T18:00", "factor": "2"})
	assert.Equal(t, 1, strings.Count(page, "Not in the plan yet."), "another week does not affect the plan")
	_, page = v.fill("off_sale", v.get("/s/lido/known/off_sale"), map[string]string{"drink": setup.Drinks[0].Code, "from": "2026-07-11T06:00"})
	assert.Equal(t, 1, strings.Count(page, "Not in the plan yet."), "it does not affect a plan")
	plan()
	assert.NotContains(t, v.get("/s/lido/known"), "is missing some of this")
	weekend = v.get("/s/lido/weekend")
	assert.NotContains(t, weekend, "Events have changed")
	assert.NotContains(t, weekend, "match", "another week is not shown")
	for _, m := range changeLinks.FindAllStringSubmatch(v.get("/s/lido/known"), -1) {
		if address := html.UnescapeString(m[1]); strings.Contains(address, "fair") {
			_, page = v.fill("event", v.get(address), map[string]string{"factor": "1.5"})
		}
	}
	assert.Equal(t, 1, strings.Count(page, "Not in the plan yet."), "its factor differs from the plan's")
	assert.Contains(t, page, "It still includes:")
	assert.Contains(t, page, "40% busier than usual")
	plan()
	for _, m := range deleteKey.FindAllStringSubmatch(v.get("/s/lido/known"), -1) {
		if strings.HasPrefix(m[1], "outage") {
			_, page = v.post("/s/lido/known", url.Values{"back": {html.UnescapeString(m[1])}})
		}
	}
	assert.Contains(t, page, "It still includes:")
	assert.Contains(t, page, "Plan 3, made")
}

func TestHoursOfASingleDateAreListed(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	setup, etag := s.setup(t)
	date := saturday
	setup.Site.Opening = append(setup.Site.Opening, models.Opening{Date: &date, From: "09:00", To: "12:00"})
	_, _, err := s.store.PutSetup(context.Background(), setup, etag, s.clock())
	require.NoError(t, err)
	page := s.visit(t).get("/s/lido/known")
	assert.Contains(t, page, "Saturday 11 July 09:00–12:00")
	assert.Contains(t, page, "instead of the weekday’s hours")
	assert.Contains(t, page, "Edit in Settings")
}
