package web_test

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/deploy/demo"
	"hotday/jobs"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/facts"
)

const (
	site     = "lido"
	saturday = models.Date("2026-07-11")
)

// shop is a running service with one small site and a fixed clock.
type shop struct {
	base  string
	key   string
	store *store.Store
	now   atomic.Pointer[time.Time]
	cut   atomic.Bool   // the network is down
	held  chan struct{} // what plans wait for once they have begun; nil: nothing
	plans sync.Once
}

// planner runs the jobs that people order from the pages, and completes all others without doing them.
type planner struct{ *store.Store }

func (p planner) Run(ctx context.Context, work map[string]models.Work) error {
	for kind := range work {
		if kind != models.JobPlan {
			work[kind] = func(context.Context, models.Job) (func(models.Store) error, error) { return nil, nil }
		}
	}
	return p.Store.Run(ctx, work)
}

// work runs the jobs until the test ends.
func (s *shop) work(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() {
		done <- jobs.Run(ctx, jobs.Config{Store: s.store, Worker: planner{s.store}, Now: s.clock, Log: slog.New(slog.DiscardHandler),
			Wait: func(ctx context.Context, _ time.Time) error { <-ctx.Done(); return ctx.Err() },
			Gather: func(ctx context.Context, st models.Store, q facts.GatherQuery) (models.PlanRequest, error) {
				if s.held != nil {
					select {
					case <-s.held:
					case <-ctx.Done():
						return models.PlanRequest{}, ctx.Err()
					}
				}
				return facts.Gather(ctx, st, q)
			}})
	}()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-done)
	})
}

func (s *shop) clock() time.Time { return *s.now.Load() }

func (s *shop) setClock(hour, minute int) {
	loc, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		panic(err)
	}
	at := saturday.At(60*hour+minute, loc)
	s.now.Store(&at)
}

func newShop(t *testing.T) *shop {
	t.Helper()
	s := &shop{}
	s.setClock(6, 30)
	ctx := context.Background()
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "hotday.db"), store.WithClock(s.clock), store.WithPoll(50*time.Millisecond))
	require.NoError(t, err)
	s.store = st
	handler := api.New(api.Config{Store: st, Sessions: st, Now: s.clock, Example: demo.Shop, Log: slog.New(slog.DiscardHandler),
		PasswordCost: &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}}).Handler()
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.cut.Load() {
			panic(http.ErrAbortHandler)
		}
		if r.Method == http.MethodPost && strings.HasPrefix(r.URL.Path, "/s/") {
			s.plans.Do(func() { s.work(t) })
		}
		handler.ServeHTTP(w, r)
	}))
	s.base = server.URL
	t.Cleanup(func() {
		server.CloseClientConnections() // live streams would keep it open
		server.Close()
		require.NoError(t, st.Close())
	})
	s.fill(t)
	_, s.key, err = st.AddToken(ctx, models.Token{Name: "manager", Scopes: []string{models.ScopeManage}, Site: site}, s.clock())
	require.NoError(t, err)
	return s
}

// fill stores the set-up, the manager's numbers and the weather of a request document.
func (s *shop) fill(t *testing.T) {
	t.Helper()
	b, err := os.ReadFile("../../testdata/requests/one-day.json")
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(b, &r))
	ctx := context.Background()
	_, _, err = s.store.PutSetup(ctx, r.Setup, "", s.clock())
	require.NoError(t, err)
	var expected []models.ExpectedDemand
	for _, d := range r.Demand {
		expected = append(expected, models.ExpectedDemand{Date: d.Date, DayPart: d.DayPart, Drink: d.Drink, Expected: &d.Expected, P10: d.P10, P90: d.P90})
	}
	require.NoError(t, s.store.PutExpectedDemand(ctx, site, expected, s.clock()))
	require.NoError(t, s.store.PutWeather(ctx, site, models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: s.clock(), Hours: r.Weather}))
}

// notTested skips a test for want of a tool, loudly, or fails it where none may be skipped.
func notTested(t *testing.T, missing string) {
	t.Helper()
	if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
		t.Fatal(missing)
	}
	t.Skip(missing)
}

// browser starts Chromium, or skips the test if it is not installed.
func browser(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("short: the pages in a browser")
	}
	var path string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		notTested(t, "NOT TESTED: the pages in a browser; install Chromium (Debian: apt-get install chromium)")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	if os.Geteuid() == 0 {
		opts = append(opts, chromedp.NoSandbox) // the sandbox does not work as root
	}
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	if end, ok := t.Deadline(); ok { // a machine that does much besides is slow: only the whole run has a limit
		var expire context.CancelFunc
		ctx, expire = context.WithDeadline(ctx, end.Add(-20*time.Second)) // in time to say which test waits for what
		t.Cleanup(expire)
	}
	require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	return ctx
}

// tab is a browser tab.
type tab struct {
	t      *testing.T
	ctx    context.Context
	mu     sync.Mutex
	errors []string // and warnings on the console
}

func open(t *testing.T, ctx context.Context, address string) *tab {
	t.Helper()
	b := &tab{t: t}
	var cancel context.CancelFunc
	b.ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(b.ctx, chromedp.EmulateViewport(1440, 900)))
	messages := chromedp.Console(b.ctx)
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleError || m.Type == chromedp.ConsoleWarning || m.IsException() {
				b.mu.Lock()
				b.errors = append(b.errors, m.Text+" "+m.URL)
				b.mu.Unlock()
			}
		}
	}()
	b.goTo(address)
	return b
}

// within limits one act in the browser: a click on what is hidden or covered waits as long as it may.
func (b *tab) within() (context.Context, context.CancelFunc) {
	return context.WithTimeout(b.ctx, time.Minute)
}

func (b *tab) goTo(address string) {
	b.t.Helper()
	ctx, done := b.within()
	defer done()
	require.NoError(b.t, chromedp.Do(ctx, chromedp.Navigate(address)))
}

// click presses a control where it is. A page that moves between the look and the press takes the press elsewhere; it is then repeated,
// as a person would, and the test's log says so.
func (b *tab) click(selector string) {
	b.t.Helper()
	ctx, done := b.within()
	defer done()
	var err error
	for range 50 { // the page may re-render the control between finding and clicking it
		watched := b.eval(fmt.Sprintf(`(() => {
			document.missed = document.querySelector(%q) !== null;
			document.addEventListener("click", (event) => { if (event.target.closest(%q)) document.missed = false; else document.struck = event.target.outerHTML.slice(0, 200); }, { capture: true });
			return document.missed;
		})()`, selector, selector))
		err = chromedp.Do(ctx, chromedp.Click(chromedp.CSS(selector)))
		switch {
		case err != nil && strings.Contains(err.Error(), "Could not find node"):
			continue
		case err == nil && watched == "true" && b.eval(`document.missed === true`) == "true":
			b.t.Logf("a click on %s went to %s", selector, b.eval(`document.struck`))
			continue
		}
		break
	}
	require.NoError(b.t, err, selector)
}

func (b *tab) typeIn(selector, text string) {
	b.t.Helper()
	ctx, done := b.within()
	defer done()
	require.NoError(b.t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS(selector), text)), selector)
}

func (b *tab) eval(script string) string {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("String("+script+")"))
	require.NoError(b.t, err, script)
	return v
}

// patience is how long a condition may take to come true on a busy machine.
const patience = 3 * time.Minute

// until waits for a condition, or for a promise of it, across page loads. The pages' policy forbids scripts made of text, so the
// library's own polling does not work here.
func (b *tab) until(condition string) {
	b.t.Helper()
	wait := `new Promise((done) => {
		let timer = 0, trouble = "";
		const look = async () => {
			try {
				if (document.readyState === "complete" && await (` + condition + `)) { done(""); return; }
				trouble = "";
			} catch (e) { trouble = e + ". "; }
			timer = setTimeout(look, 20);
		};
		look();
		setTimeout(() => { clearTimeout(timer); done(trouble + "The page says:\n" + document.body.innerText.slice(0, 2000)); }, 10000);
	})`
	ctx, done := context.WithTimeout(b.ctx, patience)
	defer done()
	says := ""
	for failures := 0; failures < 50; { // a page load ends the waiting of the page before
		text, err := chromedp.Run(ctx, chromedp.Evaluate[string](wait, chromedp.EvalAwaitPromise))
		switch {
		case err == nil && text == "":
			return
		case err == nil:
			failures, says = 0, text
		case ctx.Err() != nil:
			b.t.Fatalf("waited in vain for %s. %s", condition, says)
		default:
			failures++
		}
	}
	b.t.Fatalf("the page never stood still for %s. %s", condition, says)
}

func (b *tab) says(words string) {
	b.t.Helper()
	b.until(fmt.Sprintf("document.body.innerText.includes(%q)", words))
}

// quiet fails if the console has an error, such as a blocked script.
func (b *tab) quiet() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	assert.Empty(b.t, b.errors)
}

func (b *tab) signIn(s *shop) {
	b.t.Helper()
	b.typeIn("#key", s.key)
	b.click("button.do")
	b.until(`location.pathname === "/s/lido/weekend"`)
}

// current is the ID of the task that the wall screen shows, "" for none.
const current = `(document.querySelector("article.step:not([hidden])") || {dataset: {id: ""}}).dataset.id`

func stateOf(id string) string {
	return fmt.Sprintf(`(document.querySelector('article[data-id=%q]') || {dataset: {}}).dataset.state`, id)
}

func TestManagerPlansAndKitchenMarksTasks(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)

	manager := open(t, ctx, s.base+"/")
	manager.until(`location.pathname === "/sign-in"`)
	manager.signIn(s)
	manager.says("No plan yet")

	manager.click("button[name=again]")
	manager.says("Saturday 11 July")
	manager.says("Not published yet.")
	assert.Equal(t, "true", manager.eval(`document.querySelectorAll(".figure .wide svg .batch").length > 0`))
	manager.quiet()

	// A number corrected in place is the manager's, and the next plan uses it.
	manager.eval(`(() => { const i = document.querySelector('input[data-part="midday"]'); i.closest("details").open = true; i.value = "60"; i.dispatchEvent(new Event("change")); return i.id; })()`)
	manager.says("Saved. Plan again to use it.")
	manager.click("button[name=again]")
	manager.until(`document.body.dataset.revision === "2"`)
	assert.Equal(t, "60", manager.eval(`document.querySelector('td.word input[data-part="midday"]').value`))

	manager.click("#publish")
	manager.says("Published ")
	assert.Equal(t, "true", manager.eval(`document.getElementById("publish").disabled`))
	manager.quiet()

	// Two screens: a mark and its undo on one appear on the other.
	sheet, err := s.store.Sheet(context.Background(), site, saturday)
	require.NoError(t, err)
	require.NotEmpty(t, sheet.Tasks)
	first := sheet.Tasks[0].At.Add(time.Minute)
	s.now.Store(&first)
	wall := open(t, ctx, s.base+"/s/lido/kitchen")
	other := open(t, ctx, s.base+"/s/lido/kitchen")
	wall.until(current + ` !== ""`)
	task := wall.eval(current)
	other.until(fmt.Sprintf("%s === %q", current, task))
	wall.click("#made")
	wall.until(fmt.Sprintf("%s !== %q", current, task))
	other.until(stateOf(task) + ` === "made"`)
	wall.until(`document.getElementById("back").textContent.startsWith("Undo: ")`)
	wall.click("#back")
	wall.until(fmt.Sprintf("%s === %q", current, task))
	other.until(stateOf(task) + ` === "due"`)
	wall.quiet()
	other.quiet()

	// A mark made offline is sent once when the network is back.
	before := len(s.marks(t))
	s.cut.Store(true)
	wall.click("#made")
	wall.says("Waiting for the network: 1.")
	wall.until(fmt.Sprintf("%s !== %q", current, task))
	s.cut.Store(false)
	wall.eval(`dispatchEvent(new Event("online"))`)
	wall.until(`document.getElementById("age").hidden`)
	other.until(stateOf(task) + ` === "made"`)
	assert.Len(t, s.marks(t), before+1)

	for _, path := range []string{"/s/lido/weekend", "/s/lido/kitchen", "/v1/sites/lido/prep-sheets/2026-07-11"} {
		for _, width := range []int64{320, 390, 1920, 3840} {
			require.NoError(t, chromedp.Do(manager.ctx, chromedp.EmulateViewport(width, 800)))
			manager.goTo(s.base + path)
			assert.Equal(t, "true", manager.eval(`document.documentElement.scrollWidth <= innerWidth`), "%s at %d px scrolls sideways", path, width)
		}
	}
	manager.quiet()
}

func (s *shop) marks(t *testing.T) []models.TaskMark {
	t.Helper()
	m, err := s.store.Marks(context.Background(), site, saturday.AddDays(-1), saturday.AddDays(1))
	require.NoError(t, err)
	return m
}

func TestTryingAFixComparesChartsAndApplyingItReplans(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	// Too little ice.
	setup, etag, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	setup.Ice.OpeningG, setup.Ice.Makers[0].KgPerDayRated = 500, 4
	_, _, err = s.store.PutSetup(context.Background(), setup, etag, s.clock())
	require.NoError(t, err)

	manager := open(t, ctx, s.base+"/sign-in")
	manager.signIn(s)
	manager.click("button[name=again]")
	manager.until(`document.querySelector(".warning .try")`)
	manager.click(".warning .try")
	manager.until(`document.querySelectorAll(".tried .pair svg").length >= 2`)
	manager.says("With this")
	manager.quiet()
	manager.click(".take")
	manager.until(`document.body.dataset.revision === "2"`)
	manager.quiet()
}

func TestInvalidKeyIsRefused(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	answer, err := http.PostForm(s.base+"/sign-in", url.Values{"key": {"hotday_nothing"}})
	require.NoError(t, err)
	defer answer.Body.Close()
	assert.Equal(t, http.StatusUnauthorized, answer.StatusCode)
	assert.Contains(t, body(t, answer), "That key isn’t valid")
}

func TestPagesWithoutASessionRedirectToSignIn(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, path := range []string{"/", "/weekend", "/s/lido/weekend", "/s/lido/kitchen"} {
		answer, err := client.Get(s.base + path)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		assert.Equal(t, http.StatusSeeOther, answer.StatusCode, path)
		assert.Equal(t, "/sign-in", answer.Header.Get("Location"), path)
	}
}

func TestAnotherSitesPagesAreNotFound(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	ctx := context.Background()
	setup, _, err := s.store.Setup(ctx, site)
	require.NoError(t, err)
	setup.Site.Code = "elsewhere"
	_, _, err = s.store.PutSetup(ctx, setup, "", s.clock())
	require.NoError(t, err)
	_, key, err := s.store.AddToken(ctx, models.Token{Name: "another's", Scopes: []string{models.ScopeManage}, Site: "elsewhere"}, s.clock())
	require.NoError(t, err)
	_, kitchen, err := s.store.AddToken(context.Background(), models.Token{Name: "wall", Scopes: []string{models.ScopeKitchen}, Site: site}, s.clock())
	require.NoError(t, err)
	assert.Equal(t, http.StatusNotFound, s.get(t, key, "/s/lido/weekend").StatusCode)
	seen := s.get(t, kitchen, "/s/lido/weekend")
	assert.Equal(t, http.StatusOK, seen.StatusCode)
	assert.NotContains(t, body(t, seen), "Plan again</button>", "there is no button without the scope to plan")
}

func TestPagesHaveNoInlineScriptsOrStyles(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	for _, path := range []string{"/sign-in", "/s/lido/weekend", "/s/lido/kitchen", "/s/lido/review", "/s/lido/people", "/account", "/screen"} {
		answer := s.get(t, s.key, path)
		policy := answer.Header.Get("Content-Security-Policy")
		assert.Contains(t, policy, "script-src 'self'", path)
		assert.NotContains(t, policy, "unsafe", path)
		page := body(t, answer)
		assert.NotContains(t, page, " style=", path)
		assert.NotContains(t, page, " onclick=", path)
		assert.NotContains(t, page, "://fonts", path)
		assert.Equal(t, strings.Count(page, "<script"), strings.Count(page, "<script type=\"module\" src=\"/static/"), "%s has an inline script", path)
	}
}

func (s *shop) get(t *testing.T, key, path string) *http.Response {
	t.Helper()
	r, err := http.NewRequest(http.MethodGet, s.base+path, nil)
	require.NoError(t, err)
	r.Header.Set("Authorization", "Bearer "+key)
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	t.Cleanup(func() { _ = answer.Body.Close() })
	return answer
}

func TestWeekendAnnouncesANewerPlanWithoutReloading(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	manager := open(t, ctx, s.base+"/sign-in")
	manager.signIn(s)
	manager.click("button[name=again]")
	manager.until(`document.body.dataset.revision === "1"`)
	colleague := open(t, ctx, s.base+"/s/lido/weekend")
	colleague.until(`document.querySelector("a.days, .asked")`)
	manager.eval(`(() => { const i = document.querySelector('input[data-part="midday"]'); i.closest("details").open = true; i.value = "61"; i.dispatchEvent(new Event("change")); return ""; })()`)
	manager.says("Saved. Plan again")
	manager.click("button[name=again]")
	manager.until(`document.body.dataset.revision === "2"`)
	colleague.says("New plan: 2.")
	assert.Equal(t, "1", colleague.eval(`document.body.dataset.revision`), "the page does not change by itself")
	colleague.click("#news a")
	colleague.until(`document.body.dataset.revision === "2" && document.getElementById("news").hidden`)
	manager.quiet()
	colleague.quiet()
}

func TestWarningIsAcknowledgedWithOneTouchAndStaysOpen(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	w := models.OpenWarning{Key: "sales_silent", Warning: models.Warning{Kind: models.WarnSalesSilent, Grade: models.GradeActToday, At: s.clock(), Cause: "No sales counts since 06:00."}}
	_, err := s.store.SyncWarnings(context.Background(), site, []string{models.WarnSalesSilent}, []models.OpenWarning{w}, s.clock())
	require.NoError(t, err)
	wall := open(t, ctx, s.base+"/sign-in")
	wall.signIn(s)
	wall.goTo(s.base + "/s/lido/kitchen")
	wall.click("#alarms summary")
	wall.until(`document.querySelector(".warn button").checkVisibility()`)
	assert.Equal(t, "true", wall.eval(`(() => { const r = document.querySelector(".warn button").getBoundingClientRect(); return r.width >= 64 && r.height >= 64; })()`))
	wall.click(".warn button")
	wall.says("1 seen, still open.")
	assert.Equal(t, "0", wall.eval(`document.querySelectorAll(".warn").length`))
	warnings, err := s.store.OpenWarnings(context.Background(), site)
	require.NoError(t, err)
	require.Len(t, warnings, 1)
	assert.Equal(t, "manager", warnings[0].AckedBy)
	wall.quiet()
}
