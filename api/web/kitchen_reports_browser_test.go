package web_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/sheet"
)

// smallTargets lists the shown buttons of the wall that are less than 64 px high.
const smallTargets = `JSON.stringify([...document.querySelectorAll("#board button, #board summary")].filter((e) => e.getClientRects().length && e.checkVisibility()).map((e) => [e.textContent.trim(), Math.round(e.getBoundingClientRect().height)]).filter(([, h]) => h < 63))`

// On the wall ice is counted, a machine is reported as down and a delay is undone by touch alone.
func TestTheWallCountsAndReportsByTouch(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	wall := open(t, ctx, s.base+"/sign-in")
	s.publish(t, wall, models.TaskBrew)
	wall.phone(1920, 1080)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.until(current + ` !== ""`)
	assert.Equal(t, "[]", wall.eval(smallTargets), "every target of the wall is 64 px")
	assert.LessOrEqual(t, wall.eval(`[...document.querySelectorAll("#next li:not([hidden])")].length`), "5")
	taps := 0
	tap := func(selector string) {
		wall.tap(selector)
		taps++
	}

	// Ice: about half of the bin.
	tap("#count > summary")
	tap(`#ice-entry [data-amount="10000"]`)
	assert.Contains(t, wall.eval(`document.getElementById("save-ice").textContent`), "about half")
	assert.Equal(t, "[]", wall.eval(smallTargets))
	tap("#save-ice")
	wall.until(`document.getElementById("ice-found").textContent.startsWith("10.0\u202fkg at ") && !document.getElementById("ice-found").textContent.includes("Waiting")`)
	t.Logf("ice counted on the wall: %d taps", taps)
	wall.until(`localStorage.getItem("hotday.counts.lido") === "[]"`)
	require.Len(t, s.counts(t), 1)
	wall.tap("#undo-ice")
	wall.until(`document.getElementById("ice-kept").hidden && localStorage.getItem("hotday.counts.lido") === "[]"`)
	assert.Empty(t, s.counts(t))

	// The ice machine is down: one touch, and one to confirm.
	setup, _, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	maker := setup.Ice.Makers[0].Code
	taps = 0
	tap("#broken-maker > summary")
	tap(fmt.Sprintf(`[data-down="maker"][data-code=%q]`, maker))
	wall.says(maker + " down since ")
	t.Logf("ice machine down: %d taps", taps)
	wall.says("keep the ice bin shut")
	outages := func() []models.Outage {
		list, err := s.store.Outages(context.Background(), site, s.clock(), s.clock().Add(time.Minute))
		require.NoError(t, err)
		return list
	}
	require.Len(t, outages(), 1)
	wall.tap(`[data-works="maker"]`)
	wall.until(`!document.querySelector(".report.down")`)
	assert.Empty(t, outages())

	// 20 minutes behind, with what that moves, and Undo.
	before, err := s.store.Sheet(context.Background(), site, saturday)
	require.NoError(t, err)
	taps = 0
	tap("#behind > summary")
	assert.Contains(t, wall.eval(`document.querySelector('[data-behind="20"]').textContent`), "moves ")
	tap(`[data-behind="20"]`)
	wall.says("20\u202fmin behind: ")
	t.Logf("20 min behind: %d taps", taps)
	wall.tap("[data-undo-delay]")
	wall.until(`!document.querySelector("[data-undo-delay]")`)
	after, err := s.store.Sheet(context.Background(), site, saturday)
	require.NoError(t, err)
	assert.Equal(t, before.Tasks, after.Tasks)

	// Made and undone.
	task := wall.eval(current)
	taps = 0
	tap("#made")
	t.Logf("made: %d tap", taps)
	wall.until(stateOf(task) + ` !== "due"`)
	taps = 0
	tap("#back")
	t.Logf("undo: %d tap", taps)
	wall.until(stateOf(task) + ` === "due"`)
	wall.quiet()
}

// The wall says what to stop selling, takes it off sale with one touch, and puts it back.
func TestTheWallTakesADrinkOffSale(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	wall := open(t, ctx, s.base+"/sign-in")
	s.publish(t, wall, models.TaskBrew)
	plan, request, err := s.store.LatestPlan(context.Background(), site)
	require.NoError(t, err)
	drink := request.Drinks[0].Code
	plan.Digest += "0"
	plan.OffSale = []models.StopSelling{{Date: saturday, Drink: drink, From: s.clock(), Short: models.ShortOfIce, RunsOutAt: s.clock().Add(2 * time.Hour), Instead: []string{}, Say: "Stop selling it now."}}
	_, _, err = s.store.AddPlan(context.Background(), site, plan, request, s.clock())
	require.NoError(t, err)
	wall.phone(1920, 1080)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.says("Stop selling it now.")
	wall.tap("[data-off]")
	wall.says("off sale since")
	list, err := s.store.OffSale(context.Background(), site, s.clock(), s.clock().Add(10*time.Minute))
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, drink, list[0].Drink)
	assert.Nil(t, list[0].To)
	at := s.clock().Add(10 * time.Minute)
	s.now.Store(&at)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.tap("[data-sell]")
	wall.until(`!document.querySelector("[data-sell]")`)
	list, err = s.store.OffSale(context.Background(), site, at.Add(-20*time.Minute), at)
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.NotNil(t, list[0].To, "it has an end")
	wall.quiet()
}

// When two people prep, two tasks that can be done at the same time are shown side by side, each with its own controls.
func TestTwoPeopleHaveTwoCurrentTasks(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	setup, tag, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	setup.Site.People = []models.OnShift{{Weekday: "sat", From: "05:00", To: "23:00", OnShift: 4}}
	_, _, err = s.store.PutSetup(context.Background(), setup, tag, s.clock())
	require.NoError(t, err)
	wall := open(t, ctx, s.base+"/sign-in")
	s.publish(t, wall, models.TaskBrew)
	published, err := s.store.Sheet(context.Background(), site, saturday)
	require.NoError(t, err)
	found := false
	for i := range published.Tasks {
		for k := i + 1; k < len(published.Tasks) && !found; k++ {
			a, b := &published.Tasks[i], &published.Tasks[k]
			if a.PartOf == "" && b.PartOf == "" && b.At.Sub(a.At) < 14*time.Minute && sheet.SameTime(a, b) {
				at := a.At.Add(time.Minute)
				s.now.Store(&at)
				found = true
			}
		}
	}
	require.True(t, found, "the sheet has two tasks for two people")
	wall.phone(1920, 1080)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.until(`document.querySelectorAll("article.step:not([hidden])").length === 2`)
	assert.Equal(t, "true", wall.eval(`(() => { const [a, b] = [...document.querySelectorAll("article.step:not([hidden])")].map((e) => e.getBoundingClientRect());
		return Math.abs(a.top - b.top) < 2 && (a.right <= b.left + 1 || b.right <= a.left + 1); })()`), "side by side")
	assert.Equal(t, "[]", wall.eval(smallTargets))
	shown := func(lane string) string {
		return fmt.Sprintf(`document.querySelector("article.step%s:not([hidden])").dataset.id`, lane)
	}
	left, right := wall.eval(shown(":not(.second)")), wall.eval(shown(".second"))
	wall.tap("#skip-2")
	assert.Equal(t, "false", wall.eval(`document.getElementById("ask-skip-2").hidden`))
	assert.Equal(t, "true", wall.eval(`document.getElementById("ask-skip").hidden`), "the other one's task is not about to be skipped")
	wall.tap(`#ask-skip-2 [data-reason=""]`)
	wall.tap("#made-2")
	wall.until(stateOf(right) + ` !== "due"`)
	assert.Equal(t, left, wall.eval(shown(":not(.second)")), "the other task stays where it is")
	assert.Equal(t, "due", wall.eval(stateOf(left)))
	wall.quiet()
}
