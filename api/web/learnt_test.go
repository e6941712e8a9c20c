package web_test

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// addWeighedBatches adds three weeks of weighed batches of the first beverage, whose grounds retain retained times their weight.
func (s *shop) addWeighedBatches(t *testing.T, retained float64) (beverage string) {
	t.Helper()
	ctx := context.Background()
	setup, _, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	b := &setup.Beverages[0]
	for k := 21; k >= 1; k-- {
		d := saturday.AddDays(-k)
		start := d.At(9*60, setup.Site.Location())
		task := models.BatchTask{ID: fmt.Sprint("weighed", k), Date: d, Brewer: setup.Brewers[0].Code, Beverage: b.Code, Start: start, Ready: start.Add(time.Hour), UseBy: start.Add(8 * time.Hour),
			DoseG: 300, BrewWaterG: 300 * b.Ratio * (1 - b.IceShare), IceG: 300 * b.Ratio * b.IceShare, BeverageG: 4000}
		require.NoError(t, s.store.PutSheets(ctx, site, []models.PrepSheet{{Site: site, Date: d, Revision: 1, PublishedAt: start.Add(-time.Hour),
			Tasks: []models.Task{{ID: task.ID, At: start, Kind: models.TaskBrew, Station: task.Brewer, Beverage: b.Code, State: models.Due, Batch: &task}}}}))
		g := 300 * (b.Ratio + b.MaxYieldPct/100 - retained) * (1 + 0.01*float64(k%3-1))
		_, err := s.store.AddMark(ctx, site, models.TaskMark{Task: task.ID, State: models.Made, At: task.Ready, Key: task.ID, BeverageG: &g}, task.Ready)
		require.NoError(t, err)
	}
	return b.Code
}

var suggestedValue = regexp.MustCompile(`name="value" value="([^"]+)"`)

func TestReviewSuggestsWhatTheMarksShow(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	assert.NotContains(t, body(t, s.get(t, s.key, "/s/lido/review")), "What your counts show", "nothing was weighed")
	code := s.addWeighedBatches(t, 2.7)
	page := body(t, s.get(t, s.key, "/s/lido/review"))
	assert.Contains(t, page, "What your counts show")
	assert.Regexp(t, `the grounds keep 2\.\d+ times their weight, not 2\.10\.`, page)
	assert.Contains(t, page, "From 21 weighed batches.")
	found := suggestedValue.FindStringSubmatch(page)
	require.NotNil(t, found)

	// One click uses it, another undoes it.
	retained := func() float64 {
		setup, _, err := s.store.Setup(t.Context(), site)
		require.NoError(t, err)
		return setup.Beverages[0].RetainedRatio
	}
	v := s.visit(t)
	post := func(form url.Values) int {
		status, _ := v.post("/s/lido/review/learnt", form)
		return status
	}
	id := "retention:" + code
	assert.Equal(t, http.StatusConflict, post(url.Values{"use": {id}, "value": {"9"}}), "that was never suggested")
	assert.Equal(t, http.StatusOK, post(url.Values{"use": {id}, "value": {found[1]}}))
	assert.InDelta(t, 2.7, retained(), 0.05)
	page = body(t, s.get(t, s.key, "/s/lido/review"))
	assert.NotContains(t, page, "times their weight, not")
	assert.Regexp(t, `2\.10 → 2\.\d+\. Used by `, page)
	assert.Contains(t, body(t, s.get(t, s.key, "/s/lido/people")), "used what was learnt: retention:"+code)
	assert.Equal(t, http.StatusOK, post(url.Values{"undo": {id}}))
	assert.InDelta(t, 2.1, retained(), 1e-9)
	assert.Equal(t, http.StatusNotFound, post(url.Values{"undo": {id}}), "undone already")
	assert.Contains(t, body(t, s.get(t, s.key, "/s/lido/review")), "times their weight, not", "it is suggested again")
}
