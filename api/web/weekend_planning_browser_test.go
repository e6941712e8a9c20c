package web_test

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// A plan is computed while pages come and go: everybody sees how far it is, it can be cancelled, and it shows itself when it is done.
func TestPlanningGoesOnWithoutThePage(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(browser(t), 4*time.Minute)
	t.Cleanup(cancel)
	s := newShop(t)
	s.held = make(chan struct{})
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`!document.getElementById("planning").hidden`)
	b.goTo(s.base + "/s/lido/count")
	b.goTo(s.base + "/s/lido/weekend")
	b.says("Reading stock, sales and weather")
	other := open(t, ctx, s.base+"/s/lido/weekend")
	other.says("Reading stock, sales and weather")
	page := body(t, s.get(t, s.key, "/s/lido/weekend"))
	assert.Contains(t, page, `<noscript><meta http-equiv="refresh" content="3"></noscript>`, "without scripts the page comes again")

	other.click("#planning button")
	other.until(`document.getElementById("planning").hidden`)
	b.until(`document.getElementById("planning").hidden`)
	b.says("No plan yet")
	assert.NotContains(t, body(t, s.get(t, s.key, "/s/lido/weekend")), "http-equiv")

	b.click("button[name=again]")
	b.until(`!document.getElementById("planning").hidden`)
	close(s.held)
	b.until(`document.body.dataset.revision === "1"`)
	assert.Equal(t, "true", b.eval(`document.getElementById("planning").hidden`))
	b.quiet()
}

func TestFailedPlanSaysWhatToDo(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(browser(t), 4*time.Minute)
	t.Cleanup(cancel)
	s := newShop(t)
	rows, err := s.store.ExpectedDemand(context.Background(), site, saturday, saturday.AddDays(2))
	require.NoError(t, err)
	for i := range rows {
		rows[i].Expected, rows[i].P10, rows[i].P90 = nil, nil, nil
	}
	require.NoError(t, s.store.PutExpectedDemand(context.Background(), site, rows, s.clock()))
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.click("button[name=again]")
	b.says("No plan: no drinks expected. Enter your numbers below")
	b.goTo(s.base + "/s/lido/weekend")
	b.says("No plan: no drinks expected")
	b.click("#planning button")
	b.until(`document.getElementById("planning").hidden`)
	b.quiet()
}

func TestPlanOfImpossibleDaysIsRefused(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	for _, days := range []string{"from=2026-07-11&days=0", "from=2026-07-11&days=15", "from=2026-07-10&days=2", "from=soon&days=2"} {
		r, err := http.NewRequest(http.MethodPost, s.base+"/s/lido/plan", strings.NewReader(days))
		require.NoError(t, err)
		r.Header.Set("Authorization", "Bearer "+s.key)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		assert.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode, days)
		assert.Contains(t, body(t, answer), "Choose 1 to 14 days, from today on.")
		require.NoError(t, answer.Body.Close())
	}
	work, err := s.store.Progress(context.Background(), site)
	require.NoError(t, err)
	assert.Equal(t, []models.Progress{}, work)
}
