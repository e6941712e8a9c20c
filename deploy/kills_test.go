package deploy_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/loopback"
	"hotday/jobs/mail/mailtest"
	"hotday/models"
	"hotday/models/store"
)

// TestKilledServiceKeepsItsPromises kills the service with SIGKILL again and again while tills, kitchens and managers use it, and then
// compares what it holds and has sent with what it acknowledged. HOTDAY_KILLS is how often, for each SQLite driver; -short kills the
// default one alone.
func TestKilledServiceKeepsItsPromises(t *testing.T) {
	t.Parallel()
	kills := 15
	if testing.Short() {
		kills = 4
	}
	if n, err := strconv.Atoi(os.Getenv("HOTDAY_KILLS")); err == nil {
		kills = n
	}
	t.Run("default driver", func(t *testing.T) { killed(t, binary, kills) })
	if testing.Short() {
		return
	}
	t.Run("without cgo", func(t *testing.T) {
		program := filepath.Join(t.TempDir(), "hotday")
		build := exec.Command("go", "build", "-o", program, "hotday")
		build.Env = append(os.Environ(), "CGO_ENABLED=0")
		out, err := build.CombinedOutput()
		require.NoError(t, err, string(out))
		killed(t, program, kills)
	})
}

// storm is a service under use by several shops.
type storm struct {
	t       *testing.T
	key     string
	program string
	db      string // as the test itself reaches it
	served  []*replica
	over    atomic.Bool // no new requests
	client  *http.Client
	sent    atomic.Int64
	shops   []*stormShop
	users   sync.WaitGroup
	hooks   hooks
	post    *mailtest.Server
	settled time.Time // what was caused before has been sent
}

// anyone is the address of a replica.
func (s *storm) anyone() string { return s.served[rand.IntN(len(s.served))].address }

// replica is one process of the service.
type replica struct {
	address string
	args    []string
	cmd     *exec.Cmd
}

// stormShop is what one shop was told is stored.
type stormShop struct {
	site  string
	setup map[string]any

	mu      sync.Mutex
	counts  map[time.Time]float64 // of each window
	stock   map[time.Time]float64
	marks   map[string]string // state by key
	names   []string          // of the site, as set-ups changed it
	offSale map[time.Time]string
}

func killed(t *testing.T, program string, kills int) {
	db := filepath.Join(t.TempDir(), "hotday.db")
	s := startStorm(t, program, db, []string{db})
	chance := rand.New(rand.NewPCG(5, 6))
	for n := range kills {
		life := time.Duration(20+chance.IntN(1500)) * time.Millisecond
		if n%10 == 9 { // long enough for plans
			life += 6 * time.Second
		}
		time.Sleep(life)
		s.kill(s.served[0])
		if t.Failed() {
			break
		}
		if n%50 == 49 {
			t.Logf("%d kills, %d requests answered", n+1, s.sent.Load())
		}
	}
	s.end()
	check, err := exec.Command(program, "check", "--db", db).CombinedOutput()
	require.NoError(t, err, "%s", check)
	s.compare(fmt.Sprintf("%d kills", kills))
}

// hooks is what a receiver of webhooks got.
type hooks struct {
	sync.Mutex
	bodies map[string]string // by delivery
	twice  int
	odd    []string // repeated with another body
}

func (h *hooks) ServeHTTP(_ http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return // cut short: a retry follows
	}
	h.Lock()
	defer h.Unlock()
	id := r.Header.Get("webhook-id")
	if before, ok := h.bodies[id]; ok {
		h.twice++
		if before != string(body) {
			h.odd = append(h.odd, id)
		}
	}
	h.bodies[id] = string(body)
}

// startStorm starts a service on each of the DSNs of one database, and its users.
func startStorm(t *testing.T, program, db string, dsns []string, flags ...string) *storm {
	s := &storm{t: t, program: program, db: db, client: &http.Client{Timeout: time.Minute}, hooks: hooks{bodies: map[string]string{}}}
	receiver := httptest.NewServer(&s.hooks)
	t.Cleanup(receiver.Close)
	s.post = mailtest.Start(t, mailtest.Options{WithoutTLS: true})
	stopDraining := make(chan struct{})
	t.Cleanup(func() { close(stopDraining) })
	go func() {
		for {
			select {
			case <-s.post.Arrived:
			case <-stopDraining:
				return
			}
		}
	}()
	out, err := exec.Command(program, "token", "new", "--db", db, "--scope", "manage,kitchen,sales,read", "--name", "everybody").Output()
	require.NoError(t, err)
	s.key = strings.TrimSpace(string(out))
	for _, dsn := range dsns {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		address := l.Addr().String()
		require.NoError(t, l.Close())
		r := &replica{address: "http://" + address, args: append([]string{"serve", "--db", dsn, "--listen", address, "--private-webhooks", "--smtp", s.post.Addr, "--smtp-tls", "none",
			"--mail-from", "hotday@example.com", "--public-url", "http://" + address, "--publish-at", "* * * * *", "--watch-at", "* * * * *"}, flags...)}
		s.served = append(s.served, r)
		s.serve(r)
	}
	for n := range 5 {
		s.open(fmt.Sprintf("kiosk-%d", n+1))
	}
	s.must("POST", "/v1/webhooks", map[string]any{"url": receiver.URL, "events": models.HookEvents})
	s.subscribe()
	for n, shop := range s.shops {
		s.users.Go(func() { s.till(shop) })
		s.users.Go(func() { s.kitchen(shop) })
		if n%2 == 0 {
			s.users.Go(func() { s.manager(shop) })
		}
	}
	return s
}

// kill kills a process and starts it again.
func (s *storm) kill(r *replica) {
	s.t.Helper()
	require.NoError(s.t, r.cmd.Process.Kill())
	_ = r.cmd.Wait()
	s.serve(r)
}

// end waits until the users have gone and everything is sent, and stops the service.
func (s *storm) end() {
	s.over.Store(true)
	s.users.Wait()
	s.settled = s.settle()
	for _, r := range s.served {
		require.NoError(s.t, r.cmd.Process.Signal(syscall.SIGTERM))
		require.NoError(s.t, r.cmd.Wait(), "%s", r.cmd.Stderr)
	}
}

// compare compares what is stored and was sent with what was acknowledged.
func (s *storm) compare(what string) {
	t := s.t
	st, err := store.Open(t.Context(), s.db)
	require.NoError(t, err)
	defer func() { require.NoError(t, st.Close()) }()
	deliveries := s.deliveries(st)
	s.hooks.Lock()
	defer s.hooks.Unlock()
	require.Empty(t, s.hooks.odd, "a delivery was repeated with another body")
	for id, d := range deliveries {
		if d.State == models.DeliveryWaiting && d.CreatedAt.After(s.settled) {
			continue // queued while the service was stopped: the next start sends it
		}
		require.Equal(t, models.DeliveryDelivered, d.State, "%+v", d)
		require.Contains(t, s.hooks.bodies, id, "counted as delivered, but it never came")
	}
	for id := range s.hooks.bodies {
		require.Contains(t, deliveries, id, "a delivery that is not stored")
	}
	letters, again := s.letters(st, s.post.Messages(), s.settled)
	marks, sheets, warnings := 0, 0, 0
	for _, shop := range s.shops {
		m, p, w := shop.compare(t, st, deliveries)
		marks, sheets, warnings = marks+m, sheets+p, warnings+w
	}
	t.Logf("%s, %d requests answered; %d deliveries, %d of them again; %d letters, %d of them again; %d marks, %d sheets published, %d warnings opened",
		what, s.sent.Load(), len(deliveries), s.hooks.twice, letters, again, marks, sheets, warnings)
	require.Positive(t, letters)
	require.Positive(t, sheets)
	require.Positive(t, warnings)
	require.NotEmpty(t, deliveries)
}

// serve starts the service and waits until it answers.
func (s *storm) serve(r *replica) {
	s.t.Helper()
	cmd := exec.Command(s.program, r.args...)
	r.cmd = cmd
	errs := &bytes.Buffer{}
	cmd.Stderr = errs
	require.NoError(s.t, cmd.Start())
	s.t.Cleanup(func() { _ = cmd.Process.Kill() })
	deadline := time.Now().Add(2 * time.Minute)
	for time.Now().Before(deadline) {
		res, err := s.client.Get(r.address + "/healthz")
		if err == nil {
			_ = res.Body.Close()
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	_ = cmd.Process.Kill()
	_ = cmd.Wait()
	s.t.Fatalf("the service does not answer: %s", errs)
}

// ask sends a request again and again until it is answered, as a client does that must not lose anything.
func (s *storm) ask(method, path string, body any, header ...string) (status int, answer []byte, etag string) {
	data, err := json.Marshal(body)
	if err != nil {
		s.t.Error(err)
		return 0, nil, ""
	}
	for deadline := time.Now().Add(3 * time.Minute); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		req, err := http.NewRequest(method, s.anyone()+path, bytes.NewReader(data))
		if err != nil {
			break
		}
		req.Header.Set("Authorization", "Bearer "+s.key)
		req.Header.Set("Content-Type", "application/json")
		for i := 0; i < len(header); i += 2 {
			req.Header.Set(header[i], header[i+1])
		}
		res, err := s.client.Do(req)
		if err != nil {
			continue
		}
		answer, err = io.ReadAll(res.Body)
		_ = res.Body.Close()
		if err != nil || res.StatusCode == http.StatusServiceUnavailable || res.StatusCode == http.StatusTooManyRequests {
			continue
		}
		if res.StatusCode >= 500 {
			s.t.Errorf("%s %s: %d %s", method, path, res.StatusCode, answer)
		}
		s.sent.Add(1)
		return res.StatusCode, answer, res.Header.Get("ETag")
	}
	s.t.Errorf("%s %s was never answered", method, path)
	return 0, nil, ""
}

// must is ask for what has to succeed.
func (s *storm) must(method, path string, body any, header ...string) []byte {
	status, answer, _ := s.ask(method, path, body, header...)
	if status < 200 || status > 299 {
		s.t.Errorf("%s %s: %d %s", method, path, status, answer)
	}
	return answer
}

// open sets a shop up that is open day and night and has too little ice.
func (s *storm) open(site string) {
	s.t.Helper()
	doc, err := os.ReadFile(filepath.Join("..", "testdata", "requests", "one-day.json"))
	require.NoError(s.t, err)
	var r map[string]any
	require.NoError(s.t, json.Unmarshal(doc, &r))
	place := r["site"].(map[string]any)
	place["code"], place["timezone"] = site, "UTC"
	place["day_parts"] = []any{map[string]any{"code": "early", "from": "00:00", "to": "12:00"}, map[string]any{"code": "late", "from": "12:00", "to": "24:00"}}
	var opening []any
	for _, day := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		opening = append(opening, map[string]any{"weekday": day, "from": "00:00", "to": "24:00"})
	}
	place["opening"] = opening
	coffee := r["coffees"].([]any)[0].(map[string]any)
	coffee["lots"].([]any)[0].(map[string]any)["roasted_on"] = time.Now().AddDate(0, 0, -14).Format(time.DateOnly)
	setup := loopback.SetupOf(r)
	delete(setup["ice"].(map[string]any), "counted_at")
	s.must("PUT", "/v1/sites/"+site+"/setup", setup)
	var rows []any
	for day := range 3 {
		for _, part := range []string{"early", "late"} {
			rows = append(rows, map[string]any{"date": time.Now().UTC().AddDate(0, 0, day).Format(time.DateOnly), "day_part": part, "drink": "glass", "expected": 200})
		}
	}
	s.must("PUT", "/v1/sites/"+site+"/expected-demand", map[string]any{"rows": rows})
	s.shops = append(s.shops, &stormShop{site: site, setup: setup, counts: map[time.Time]float64{}, stock: map[time.Time]float64{}, marks: map[string]string{},
		offSale: map[time.Time]string{}})
}

// subscribe has e-mail sent to somebody about all shops.
func (s *storm) subscribe() {
	s.t.Helper()
	var p models.Person
	require.NoError(s.t, json.Unmarshal(s.must("POST", "/v1/people", map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"read"}}), &p))
	var sites []any
	for _, shop := range s.shops {
		sites = append(sites, map[string]any{"site": shop.site, "kinds": []string{models.MailSheet, models.MailActNow, models.MailActToday}})
	}
	s.must("PUT", "/v1/people/"+p.ID+"/mail", map[string]any{"address": "ada@example.com", "subscriptions": sites})
	require.Eventually(s.t, func() bool { return len(s.post.Messages()) > 0 }, 2*time.Minute, 20*time.Millisecond, "no letter to confirm the address")
	code := regexp.MustCompile(`/mail/confirm\?code=([\w-]+)`).FindStringSubmatch(s.post.Messages()[0].Parse(s.t).Text())
	require.NotNil(s.t, code)
	res, err := s.client.PostForm(s.anyone()+"/mail/confirm", url.Values{"code": {code[1]}})
	require.NoError(s.t, err)
	require.NoError(s.t, res.Body.Close())
	require.Equal(s.t, http.StatusOK, res.StatusCode)
}

func (s *storm) till(shop *stormShop) {
	start := time.Now().UTC().AddDate(0, 0, -20).Truncate(time.Hour)
	for n := 1; !s.over.Load(); n++ {
		var counts []any
		windows := map[time.Time]float64{}
		for range 5 {
			start = start.Add(time.Minute)
			windows[start] = float64(n)
			counts = append(counts, map[string]any{"item": "GLASS", "window_start": start, "window_end": start.Add(time.Minute), "count": n})
		}
		s.must("POST", "/v1/sites/"+shop.site+"/sales-counts", map[string]any{"source": "till", "counts": counts}, "Idempotency-Key", fmt.Sprintf("%s-%d", shop.site, n))
		shop.mu.Lock()
		maps.Copy(shop.counts, windows)
		shop.mu.Unlock()
		time.Sleep(10 * time.Millisecond)
	}
}

func (s *storm) kitchen(shop *stormShop) {
	at := time.Now().UTC().Truncate(time.Second)
	for n := 0; !s.over.Load(); n++ {
		at = at.Add(time.Millisecond) // each count has an instant of its own
		ice := float64(100 + n)
		s.must("POST", "/v1/sites/"+shop.site+"/stock-counts", map[string]any{"counted_at": at, "ice_g": ice})
		shop.mu.Lock()
		shop.stock[at] = ice
		shop.mu.Unlock()
		for day := range 2 {
			s.mark(shop, time.Now().UTC().AddDate(0, 0, day).Format(time.DateOnly), n)
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// mark marks a task of a day's sheet, if there is one.
func (s *storm) mark(shop *stormShop, date string, n int) {
	status, answer, _ := s.ask("GET", "/v1/sites/"+shop.site+"/prep-sheets/"+date, nil)
	var sheet models.PrepSheet
	if status != http.StatusOK || json.Unmarshal(answer, &sheet) != nil || len(sheet.Tasks) == 0 {
		return
	}
	task := sheet.Tasks[n%len(sheet.Tasks)]
	key := fmt.Sprintf("wall-%s-%d", date, n)
	state := []string{models.Started, models.Made, models.Due}[n%3]
	status, answer, _ = s.ask("POST", "/v1/tasks/"+task.ID+"/marks", map[string]any{"state": state, "at": time.Now().UTC(), "key": key})
	if status == http.StatusOK {
		shop.mu.Lock()
		shop.marks[task.ID+" "+key] = state
		shop.mu.Unlock()
	} else if !slices.Contains([]int{http.StatusNotFound, http.StatusConflict, http.StatusUnprocessableEntity}, status) { // replaced by a replan, or it asks for grams
		s.t.Errorf("mark %s: %d %s", task.ID, status, answer)
	}
}

func (s *storm) manager(shop *stormShop) {
	setup := "/v1/sites/" + shop.site + "/setup"
	_, _, etag := s.ask("GET", setup, nil)
	at := time.Now().UTC().Truncate(time.Second)
	for n := 1; !s.over.Load(); n++ {
		name := fmt.Sprintf("Kiosk %d", n)
		shop.setup["site"].(map[string]any)["name"] = name
		status, answer, next := s.ask("PUT", setup, shop.setup, "If-Match", etag)
		if status == http.StatusPreconditionFailed { // the answer to the first attempt was lost
			status, answer, next = s.ask("GET", setup, nil)
			if !strings.Contains(string(answer), strconv.Quote(name)) {
				s.t.Errorf("the set-up changed under the only manager: %s", answer)
			}
		}
		if status != http.StatusOK {
			s.t.Errorf("PUT set-up: %d %s", status, answer)
		}
		etag = next
		shop.mu.Lock()
		shop.names = append(shop.names, name)
		shop.mu.Unlock()

		from := at.Add(time.Duration(n) * time.Millisecond)
		s.must("POST", "/v1/sites/"+shop.site+"/off-sale", map[string]any{"rows": []any{map[string]any{"drink": "glass", "from": from, "to": from.Add(time.Hour)}}})
		shop.mu.Lock()
		shop.offSale[from] = "glass"
		shop.mu.Unlock()
		if n%10 == 1 {
			s.must("POST", "/v1/sites/"+shop.site+"/plans", map[string]any{"from": time.Now().UTC().Format(time.DateOnly), "days": 1}, "Prefer", "respond-async")
		}
		if _, answer, _ := s.ask("GET", "/v1/sites/"+shop.site+"/plans/latest", nil); n%10 == 5 {
			var plan models.Plan
			if json.Unmarshal(answer, &plan) == nil && plan.Revision > 0 {
				s.must("POST", fmt.Sprintf("/v1/sites/%s/plans/%d/publish", shop.site, plan.Revision), map[string]any{})
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
}

// jobTime is more than a job of the test takes on a busy machine.
const jobTime = 2 * time.Minute

// settle waits until every shop has its sheet of tomorrow and a warning, and nothing waits to be sent. What was caused before the time
// that it returns has been sent: a message has the time at which the job began that caused it, which may have ended since.
func (s *storm) settle() (by time.Time) {
	s.t.Helper()
	waiting := ""
	for deadline := time.Now().Add(8 * time.Minute); time.Now().Before(deadline); time.Sleep(200 * time.Millisecond) {
		waiting, by = "", time.Now()
		tomorrow := by.UTC().AddDate(0, 0, 1).Format(time.DateOnly) // midnight may pass meanwhile
		for _, shop := range s.shops {
			if status, _, _ := s.ask("GET", "/v1/sites/"+shop.site+"/prep-sheets/"+tomorrow, nil); status != http.StatusOK {
				waiting = "the sheet of " + shop.site
			}
			if open := s.must("GET", "/v1/sites/"+shop.site+"/warnings", nil); !strings.Contains(string(open), `"id"`) {
				waiting = "a warning that " + shop.site + " has hardly any ice"
			}
		}
		var hooks, people struct{ Rows []struct{ ID string } }
		_ = json.Unmarshal(s.must("GET", "/v1/webhooks", nil), &hooks)
		_ = json.Unmarshal(s.must("GET", "/v1/people", nil), &people)
		for _, list := range []string{"/v1/webhooks/" + hooks.Rows[0].ID + "/deliveries", "/v1/people/" + people.Rows[0].ID + "/mail/log"} {
			if log := s.must("GET", list, nil); strings.Contains(string(log), `"waiting"`) {
				waiting = list
			}
		}
		if waiting == "" {
			return by.Add(-jobTime)
		}
	}
	s.t.Errorf("still waiting for %s", waiting)
	return by
}

// deliveries are those of the webhook, by ID.
func (s *storm) deliveries(st models.Store) map[string]models.Delivery {
	s.t.Helper()
	hooks, err := st.Webhooks(s.t.Context())
	require.NoError(s.t, err)
	out := map[string]models.Delivery{}
	for page := (models.Page{Limit: models.MaxLimit}); ; {
		rows, err := st.Deliveries(s.t.Context(), hooks[0].ID, page)
		require.NoError(s.t, err)
		for _, d := range rows.Rows {
			out[d.ID] = d
		}
		if rows.Next == nil {
			return out
		}
		page.Cursor = *rows.Next
	}
}

// letters compares the log of e-mail with what the mail server got and returns how many letters there were, and how many came again.
func (s *storm) letters(st *store.Store, got []mailtest.Message, settled time.Time) (letters, again int) {
	s.t.Helper()
	people, err := st.People(s.t.Context())
	require.NoError(s.t, err)
	logged, causes := map[string]models.Mail{}, map[string]bool{}
	for page := (models.Page{Limit: models.MaxLimit}); ; {
		rows, err := st.MailLog(s.t.Context(), people[0].ID, page)
		require.NoError(s.t, err)
		for _, m := range rows.Rows {
			logged[m.ID] = m
			cause := m.Kind + " " + m.Site + " " + m.About
			require.False(s.t, causes[cause], "two letters for one cause: %s", cause)
			causes[cause] = true
		}
		if rows.Next == nil {
			break
		}
		page.Cursor = *rows.Next
	}
	came := map[string]int{}
	for _, m := range got {
		id, _, _ := strings.Cut(strings.Trim(m.Parse(s.t).Header.Get("Message-Id"), "<>"), "@")
		require.Contains(s.t, logged, id, "a letter that is not in the log")
		if came[id]++; came[id] > 1 {
			again++
		}
	}
	for id, m := range logged {
		require.True(s.t, m.State != models.DeliveryWaiting || m.CreatedAt.After(settled), "%+v", m)
		if m.State == models.DeliveryDelivered {
			require.Contains(s.t, came, id, "counted as sent, but it never came: %+v", m)
		}
	}
	return len(came), again
}

// compare compares what is stored with what was acknowledged, and returns how many marks, published sheets and warnings there are.
func (shop *stormShop) compare(t *testing.T, st *store.Store, deliveries map[string]models.Delivery) (marks, sheets, warnings int) {
	t.Helper()
	ctx, now := context.WithoutCancel(t.Context()), time.Now().UTC()
	stored := map[time.Time]float64{}
	for page := (models.Page{Limit: models.MaxLimit}); ; {
		rows, err := st.Counts(ctx, shop.site, models.SalesFilter{}, page)
		require.NoError(t, err)
		for _, r := range rows.Rows {
			require.NotContains(t, stored, r.WindowStart.UTC(), "a window is there twice")
			stored[r.WindowStart.UTC()] = r.Count
		}
		if rows.Next == nil {
			break
		}
		page.Cursor = *rows.Next
	}
	require.Equal(t, shop.counts, stored, "sales counts of %s", shop.site)

	counts, err := st.StockCounts(ctx, shop.site, now.AddDate(0, 0, -2), now.AddDate(0, 0, 2))
	require.NoError(t, err)
	stock := map[time.Time]float64{}
	for _, c := range counts {
		if _, ours := shop.stock[c.CountedAt.UTC()]; ours {
			require.NotContains(t, stock, c.CountedAt.UTC(), "a stock count is there twice")
			stock[c.CountedAt.UTC()] = *c.IceG
		}
	}
	require.Equal(t, shop.stock, stock, "stock counts of %s", shop.site)

	list, err := st.Marks(ctx, shop.site, models.Date(now.AddDate(0, 0, -2).Format(time.DateOnly)), models.Date(now.AddDate(0, 0, 3).Format(time.DateOnly)))
	require.NoError(t, err)
	marked := map[string]string{}
	for _, m := range list {
		require.NotContains(t, marked, m.Task+" "+m.Key, "a mark is there twice")
		marked[m.Task+" "+m.Key] = m.State
	}
	for key, state := range shop.marks {
		require.Equal(t, state, marked[key], "mark %s of %s", key, shop.site)
	}

	if len(shop.names) > 0 {
		setup, _, err := st.Setup(ctx, shop.site)
		require.NoError(t, err)
		require.Equal(t, shop.names[len(shop.names)-1], setup.Site.Name)
		versions, err := st.SetupVersions(ctx, shop.site, 1+2*len(shop.names))
		require.NoError(t, err)
		require.Len(t, versions, 1+len(shop.names), "each change of the set-up is one version")
	}

	off, err := st.OffSale(ctx, shop.site, now.AddDate(0, 0, -2), now.AddDate(0, 0, 2))
	require.NoError(t, err)
	gone := map[time.Time]string{}
	for _, o := range off {
		if _, ours := shop.offSale[o.From.UTC()]; ours {
			require.NotContains(t, gone, o.From.UTC())
			gone[o.From.UTC()] = o.Drink
		}
	}
	require.Equal(t, shop.offSale, gone, "off sale at %s", shop.site)

	var events []models.LiveEvent
	for last := int64(0); ; {
		more, err := st.EventsAfter(ctx, shop.site, last, models.MaxLimit)
		require.NoError(t, err)
		if len(more) == 0 {
			break
		}
		events, last = append(events, more...), more[len(more)-1].ID
	}
	published, told, latest := map[string]int{}, map[string]int{}, map[string]int{}
	trimmed := events[0].ID > 1 // only the latest events are kept
	for _, e := range events {
		var d struct {
			Date     string
			Revision int
			Task     string
			Key      string
			Changes  []string
		}
		require.NoError(t, json.Unmarshal(e.Data, &d))
		switch e.Kind {
		case "sheet":
			one := fmt.Sprintf("%s revision %d", d.Date, d.Revision)
			require.False(t, latest[d.Date] == d.Revision && len(d.Changes) == 0, "%s of %s was published twice without a change", one, shop.site)
			published[one]++
			latest[d.Date] = d.Revision
		case "mark":
			marks++
		}
	}
	opened, err := st.WarningsOpened(ctx, shop.site, now.AddDate(0, 0, -2), now.AddDate(0, 0, 2))
	require.NoError(t, err)
	for _, d := range deliveries {
		var body models.HookBody
		require.NoError(t, json.Unmarshal(d.Body, &body))
		if body.Site != shop.site {
			continue
		}
		if d.Event == models.HookPublished {
			var sheet struct {
				Date     string
				Revision int
			}
			require.NoError(t, json.Unmarshal(body.Data, &sheet))
			one := fmt.Sprintf("%s revision %d", sheet.Date, sheet.Revision)
			require.True(t, published[one] > 0 || trimmed, "told of %s, which was not published", one)
			told[one]++
		}
		if d.Event == models.HookWarning {
			for _, w := range opened {
				if strings.Contains(string(body.Data), strconv.Quote(w.ID)) {
					told[w.ID]++
				}
			}
		}
	}
	for one, times := range published {
		require.GreaterOrEqual(t, told[one], times, "%s of %s: a delivery each time", one, shop.site)
		require.True(t, told[one] == times || trimmed, "%s of %s: %d deliveries, published %d times", one, shop.site, told[one], times)
	}
	for _, w := range opened {
		require.Equal(t, 1, told[w.ID], "warning %s of %s: one delivery", w.ID, shop.site)
	}
	tomorrow := string(models.Date(now.Format(time.DateOnly)).AddDays(1))
	_, err = st.Sheet(ctx, shop.site, models.Date(tomorrow))
	require.NoError(t, err, "tomorrow's sheet")
	return marks, len(published), len(opened)
}
