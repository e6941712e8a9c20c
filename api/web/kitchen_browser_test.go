package web_test

import (
	"context"
	"fmt"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/heapprofiler"
	"github.com/chromedp/cdproto/memory"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// publish plans and publishes Saturday on the page, and sets the clock to just after the first task of a kind.
func (s *shop) publish(t *testing.T, manager *tab, kind string) models.Task {
	t.Helper()
	manager.signIn(s)
	manager.click("button[name=again]")
	manager.says("Saturday 11 July")
	manager.click("#publish")
	manager.says("Published ")
	sheet, err := s.store.Sheet(context.Background(), site, saturday)
	require.NoError(t, err)
	for _, task := range sheet.Tasks {
		if task.Kind == kind {
			at := task.At.Add(time.Minute)
			s.now.Store(&at)
			return task
		}
	}
	require.Fail(t, "no task of the kind "+kind)
	return models.Task{}
}

func bringForward(id string) string {
	return fmt.Sprintf(`(() => { const b = document.querySelector('#next li[data-for=%[1]q] button'); if (b) b.click(); return %[2]s === %[1]q; })()`, id, current)
}

func (s *shop) standing(t *testing.T, id string) (models.TaskMark, bool) {
	t.Helper()
	var of []models.TaskMark
	for _, m := range s.marks(t) {
		if m.Task == id {
			of = append(of, m)
		}
	}
	return models.CurrentMark(of)
}

// Simultaneous marks on two screens converge; the result of a batch is asked for without blocking; one touch undoes all; offline and
// after a reload, the screen shows the last board with its unsent marks, which are sent once.
func TestKitchenScreensConcurrentlyAndOffline(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	manager := open(t, ctx, s.base+"/sign-in")
	task := s.publish(t, manager, models.TaskStore) // the last step of a batch, whose line is marked
	line := task.PartOf
	require.NotEmpty(t, line)
	left := open(t, ctx, s.base+"/s/lido/kitchen")
	right := open(t, ctx, s.base+"/s/lido/kitchen")
	for _, w := range []*tab{left, right} {
		w.until(bringForward(task.ID))
	}
	const shown = `new Promise((done) => { const t = document.querySelector('article[data-id=%q]'); const look = () => t.dataset.state === "made" || !t.isConnected ? done(Date.now()) : requestAnimationFrame(look); look(); })`
	seen := make(chan float64, 1)
	failed := make(chan error, 1)
	go func() {
		at, err := chromedp.Run(right.ctx, chromedp.Evaluate[float64](fmt.Sprintf(shown, task.ID), chromedp.EvalAwaitPromise))
		seen <- at
		failed <- err
	}()
	touched, err := strconv.ParseFloat(left.eval(`(() => { document.getElementById("made").click(); return Date.now(); })()`), 64)
	require.NoError(t, err)
	saw := <-seen
	require.NoError(t, <-failed)
	t.Logf("a mark on one screen was seen on the other after %.0f ms", saw-touched)

	left.says("how much did you make?")
	left.click(`[data-add="-100"]`)
	left.click("#measured")
	left.click(`[data-stronger="0.1"]`)
	left.click("#keep")
	left.until(`document.getElementById("ask-amount").hidden && !localStorage.getItem("hotday.marks.lido").includes("{")`)
	m, ok := s.standing(t, line)
	require.True(t, ok)
	require.NotNil(t, m.BeverageG)
	require.NotNil(t, m.TDSPct)
	assert.InDelta(t, task.Batch.BeverageG-100, *m.BeverageG, 6, "rounded to 10 g")
	assert.InDelta(t, task.Batch.ExpectedTDSPct+0.1, *m.TDSPct, 0.006)

	// The other screen marks the same task, as if the two touches had crossed.
	right.eval(fmt.Sprintf(`fetch("/v1/tasks/%s/marks", { method: "POST", headers: { "Content-Type": "application/json", "X-CSRF-Token": document.querySelector(".wall").dataset.csrf },
		body: JSON.stringify({ state: "made", at: %q, key: "at-once" }) })`, line, s.clock().Format(time.RFC3339)))
	require.Eventually(t, func() bool { return len(s.marks(t)) == 3 }, time.Minute, 10*time.Millisecond)
	m, _ = s.standing(t, line)
	assert.NotNil(t, m.BeverageG, "the weight is kept")
	left.click("#back")
	for _, w := range []*tab{left, right} {
		w.until(stateOf(task.ID) + ` === "due"`)
	}
	left.quiet()
	right.quiet()

	// A reload while offline.
	left.until(`navigator.serviceWorker.controller`)
	left.eval(`dispatchEvent(new Event("online"))`)
	left.until(`caches.open("hotday./s/lido/kitchen").then((c) => c.match("/s/lido/kitchen")).then((r) => r && r.text()).then((text) => !!text && text.includes("` + task.ID + `"))`)
	before := len(s.marks(t))
	s.cut.Store(true)
	left.goTo(s.base + "/s/lido/kitchen")
	left.until(`document.body.dataset.kept`)
	left.until(bringForward(task.ID))
	left.click("#made")
	left.says("Waiting for the network: 1.")
	left.goTo(s.base + "/s/lido/kitchen")
	left.until(`document.body.dataset.kept`)
	left.says("Waiting for the network: 1.")
	s.cut.Store(false)
	left.eval(`dispatchEvent(new Event("online"))`)
	left.until(`document.getElementById("age").hidden`)
	right.until(stateOf(task.ID) + ` === "made"`)
	assert.Len(t, s.marks(t), before+1)
}

// A screen runs for weeks: thousands of boards must not leak memory. Also its clock, station filter and sound.
func TestKitchenScreenRunsForWeeks(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	wall := open(t, ctx, s.base+"/sign-in")
	task := s.publish(t, wall, models.TaskBrew)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.until(current + ` !== ""`)

	play := func(n int) {
		got, err := chromedp.Run(wall.ctx, chromedp.Evaluate[float64](fmt.Sprintf(`(async () => {
			const real = window.fetch, board = document.getElementById("board"), text = board.innerHTML;
			const stream = window.EventSource;
			window.EventSource = class extends EventTarget { static CLOSED = 2; readyState = 1; close() {} };
			const before = Number(board.firstElementChild.dataset.last); // a plan that takes long has sent events already
			let i = before;
			window.fetch = async (path, o) => String(path).includes("part=board") ? new Response(text.replace(/data-last="[^"]*"/, 'data-last="' + (++i) + '"')) : real(path, o);
			for (let at = 1; at <= %d; at++) {
				dispatchEvent(new Event("online"));
				for (let waited = 1; Number(board.firstElementChild.dataset.last) < before + at; waited++) {
					await new Promise((done) => setTimeout(done, 0));
					if (waited %% 500 === 0) dispatchEvent(new Event("online")); // the one before came while a board was being fetched
				}
			}
			window.fetch = real;
			window.EventSource = stream;
			dispatchEvent(new Event("online"));
			return i - before;
		})()`, n), chromedp.EvalAwaitPromise))
		require.NoError(t, err)
		require.GreaterOrEqual(t, got, float64(n))
	}
	var nodes int64
	var heap float64
	for range 3 { // warm up; a replaced board may or may not be collected yet
		play(50)
		n, h := wall.memory()
		nodes, heap = max(nodes, n), max(heap, h)
	}
	stored := wall.eval(`JSON.stringify(localStorage).length`)
	const boards = 3000
	play(boards)
	nodesAfter, heapAfter := wall.memory()
	t.Logf("%d boards: %d → %d nodes, %.0f → %.0f KiB of heap", boards, nodes, nodesAfter, heap/1024, heapAfter/1024)
	assert.LessOrEqual(t, nodesAfter, 3*nodes+200, "a board or two may not be collected yet, but not thousands")
	assert.LessOrEqual(t, heapAfter, heap+1<<20)
	assert.Equal(t, stored, wall.eval(`JSON.stringify(localStorage).length`))
	wall.until(stateOf(task.ID) + ` === "due"`)

	// If the screen's clock is wrong, the page still shows the shop's time.
	loc, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	shops, next := s.clock().In(loc).Format("15:04"), s.clock().In(loc).Add(time.Minute).Format("15:04")
	wall.eval(`(() => { const real = Date.now; Date.now = () => real() + 3 * 3600e3; document.dispatchEvent(new Event("visibilitychange")); return ""; })()`)
	wall.until(fmt.Sprintf(`[%q, %q].includes(document.getElementById("clock").textContent) && document.getElementById("age").hidden`, shops, next))

	// The station filter survives a reload; other tasks are folded away.
	wall.click("#own summary")
	wall.click(`[data-pick="water"]`)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.until(`!document.getElementById("others").hidden`)
	assert.Equal(t, "true", wall.eval(`[...document.querySelectorAll("#next li:not([hidden])")].every((li) => document.getElementById("s-" + li.dataset.for).dataset.station === "water")`))
	wall.click("#own summary")
	wall.click(`[data-pick=""]`)
	wall.until(`document.getElementById("others").hidden`)

	// Sound is off by default; switched on, a new urgent warning plays.
	wall.eval(`(() => { window.notes = 0; window.AudioContext = class { state = "running"; currentTime = 0; destination = {}; createOscillator() { window.notes++; return { frequency: {}, connect: (n) => n, start() {}, stop() {} }; } createGain() { return { gain: { setValueAtTime() {}, exponentialRampToValueAtTime() {} }, connect: (n) => n }; } }; return ""; })()`)
	warn := func(key string) {
		w := models.OpenWarning{Key: key, Warning: models.Warning{Kind: models.WarnSalesSilent, Grade: models.GradeActNow, At: s.clock(), Cause: "No sales counts since " + key + "."}}
		_, err := s.store.SyncWarnings(context.Background(), site, []string{models.WarnSalesSilent}, []models.OpenWarning{w}, s.clock())
		require.NoError(t, err)
		before := wall.eval(`(document.querySelector(".warn.act_now") || {dataset: {}}).dataset.warning`)
		wall.eval(`dispatchEvent(new Event("online"))`)
		wall.until(fmt.Sprintf(`document.querySelector(".warn.act_now") && document.querySelector(".warn.act_now").dataset.warning !== %q`, before))
	}
	warn("06:00")
	assert.Equal(t, "0", wall.eval(`window.notes`))
	wall.click("#sound")
	wall.until(`window.notes === 2`) // switching it on plays a sample
	warn("07:00")
	wall.until(`window.notes === 5`)
	wall.quiet()
}

// memory is the page's number of DOM nodes and its JavaScript heap in bytes, after garbage collection.
func (b *tab) memory() (nodes int64, heap float64) {
	b.t.Helper()
	_, err := chromedp.Run(b.ctx, func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		for range 2 {
			if _, err := cdp.Call(ctx, target, heapprofiler.CollectGarbage, cdp.Empty{}); err != nil {
				return chromedp.Void{}, err
			}
		}
		counters, err := cdp.Call(ctx, target, memory.GetDOMCounters, cdp.Empty{})
		if err != nil {
			return chromedp.Void{}, err
		}
		usage, err := cdp.Call(ctx, target, runtime.GetHeapUsage, cdp.Empty{})
		nodes, heap = counters.Nodes, float64(usage.UsedSize)
		return chromedp.Void{}, err
	})
	require.NoError(b.t, err)
	return nodes, heap
}
