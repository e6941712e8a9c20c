package deploy_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/http/httptrace"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/loopback"
	"hotday/models"
)

// served is a running service with a manager's key and an invented site.
type served struct {
	*running
	db, address, key, site string
	request                map[string]any // a plan request of the site
}

// serve starts a service on an empty database, or on db if it is given, and sets the site up there.
func serve(t *testing.T, env []string, db string, flags ...string) *served {
	t.Helper()
	s := &served{db: db}
	if db == "" {
		s.db = filepath.Join(t.TempDir(), "hotday.db")
	}
	key, said, exit := hotday(t, "", "token", "new", "--db", s.db, "--scope", "manage", "--name", "me")
	require.Zero(t, exit, said)
	s.key = strings.TrimSpace(key)
	s.running = start(t, (*exec.Cmd).StderrPipe, env, append([]string{"serve", "--db", s.db, "--listen", "127.0.0.1:0"}, flags...)...)
	s.address = s.waitFor(`listening on (http://127\.0\.0\.1:\d+)`)
	doc, err := os.ReadFile(filepath.Join("..", "testdata", "requests", "weekend.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(doc, &s.request))
	s.site = s.request["site"].(map[string]any)["code"].(string)
	if db == "" {
		s.setUp(t)
	}
	return s
}

// setUp sets the site up.
func (s *served) setUp(t *testing.T) {
	t.Helper()
	res, _ := s.send(t, http.MethodPut, "/v1/sites/"+s.site+"/setup", loopback.SetupOf(s.request))
	require.Equal(t, http.StatusCreated, res.StatusCode)
}

// send sends a request with a JSON body, nil for none, and returns the response with its body read.
func (s *served) send(t *testing.T, method, path string, body any, header ...string) (*http.Response, string) {
	t.Helper()
	data, err := json.Marshal(body)
	require.NoError(t, err)
	req, err := http.NewRequestWithContext(t.Context(), method, s.address+path, bytes.NewReader(data))
	require.NoError(t, err)
	req.Header.Set("Authorization", "Bearer "+s.key)
	req.Header.Set("Content-Type", "application/json")
	for i := 0; i < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer res.Body.Close()
	out, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res, string(out)
}

// days returns the demand of the request's first day on n days from it.
func (s *served) days(t *testing.T, n int) []any {
	t.Helper()
	from, err := time.Parse(time.DateOnly, s.request["from"].(string))
	require.NoError(t, err)
	var out []any
	for day := range n {
		for _, row := range s.request["demand"].([]any) {
			r := row.(map[string]any)
			if r["date"] != s.request["from"] {
				continue
			}
			out = append(out, map[string]any{"date": from.AddDate(0, 0, day).Format(time.DateOnly), "day_part": r["day_part"], "drink": r["drink"], "expected": r["expected"]})
		}
	}
	return out
}

func TestShutdownEndsStreamsAndCancelsPreviews(t *testing.T) {
	t.Parallel()
	s := serve(t, nil, "", "--grace", "100s") // more than a busy machine needs
	live, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.address+"/v1/sites/"+s.site+"/live", nil)
	require.NoError(t, err)
	live.Header.Set("Authorization", "Bearer "+s.key)
	stream, err := http.DefaultClient.Do(live)
	require.NoError(t, err)
	defer stream.Body.Close()
	require.Equal(t, http.StatusOK, stream.StatusCode)
	events := bufio.NewReader(stream.Body)
	_, err = events.ReadString('\n')
	require.NoError(t, err)

	s.request["days"], s.request["demand"] = 14, s.days(t, 14)
	var mu sync.Mutex
	var answers sync.WaitGroup
	statuses, began := map[int]int{}, make(chan struct{}, 4)
	client := &http.Client{Transport: &http.Transport{ExpectContinueTimeout: time.Minute}}
	defer client.CloseIdleConnections()
	data, err := json.Marshal(s.request)
	require.NoError(t, err)
	for range cap(began) {
		key, _, exit := hotday(t, "", "token", "new", "--db", s.db, "--scope", "manage", "--name", "one of several")
		require.Zero(t, exit)
		answers.Go(func() {
			// A handler that reads the body says "continue" first: the preview is then under way.
			seen := httptrace.WithClientTrace(t.Context(), &httptrace.ClientTrace{Got100Continue: func() { began <- struct{}{} }})
			req, err := http.NewRequestWithContext(seen, http.MethodPost, s.address+"/v1/plan-previews", bytes.NewReader(data))
			if err != nil {
				t.Error(err)
				return
			}
			req.Header.Set("Authorization", "Bearer "+strings.TrimSpace(key)) // a key computes one preview at a time
			req.Header.Set("Content-Type", "application/json")
			req.Header.Set("Expect", "100-continue")
			res, err := client.Do(req)
			if err != nil {
				t.Error("a preview had no answer:", err)
				return
			}
			defer res.Body.Close()
			body, err := io.ReadAll(res.Body)
			mu.Lock()
			defer mu.Unlock()
			statuses[res.StatusCode]++
			if res.StatusCode == http.StatusServiceUnavailable && (err != nil || res.Header.Get("Retry-After") == "" || !strings.Contains(string(body), "shutting down")) {
				t.Errorf("%v %v %s", err, res.Header, body)
			}
		})
	}
	for range cap(began) {
		<-began
	}

	s.stop(syscall.SIGTERM) // exit code 0
	answers.Wait()
	rest, err := io.ReadAll(events)
	require.NoError(t, err, "the stream ended whole")
	require.Contains(t, string(rest), "event: hello")
	require.Positive(t, statuses[http.StatusServiceUnavailable], "previews that take longer are cancelled: %v", statuses)
	require.Equal(t, cap(began), statuses[http.StatusServiceUnavailable]+statuses[http.StatusOK], "%v", statuses)
	require.NotContains(t, strings.Join(s.lines, "\n"), "still busy", "all were answered within the grace period")
}

func TestShutdownHandsJobsBackToTheNextStart(t *testing.T) {
	t.Parallel()
	type attempt struct {
		id     string
		answer chan int
	}
	attempts := make(chan attempt)
	done := make(chan struct{})
	receiver := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a := attempt{r.Header.Get("webhook-id"), make(chan int)}
		select {
		case attempts <- a:
		case <-done:
			return
		}
		select {
		case status := <-a.answer:
			w.WriteHeader(status)
		case <-r.Context().Done(): // the service gave up
		case <-done:
		}
	}))
	defer receiver.Close() // waits for its handlers
	defer close(done)
	s := serve(t, nil, "", "--grace", "1s", "--private-webhooks")
	res, body := s.send(t, http.MethodPost, "/v1/webhooks", map[string]any{"url": receiver.URL, "events": []string{models.HookOffSale}, "site": s.site})
	require.Equal(t, http.StatusCreated, res.StatusCode, body)
	drink := s.request["drinks"].([]any)[0].(map[string]any)["code"]
	res, body = s.send(t, http.MethodPost, "/v1/sites/"+s.site+"/off-sale", map[string]any{"rows": []any{map[string]any{"drink": drink, "from": time.Now()}}})
	require.Equal(t, http.StatusOK, res.StatusCode, body)
	first := <-attempts
	s.stop(syscall.SIGTERM) // while the job waits for the receiver

	s = serve(t, nil, s.db, "--private-webhooks")
	second := <-attempts
	require.Equal(t, first.id, second.id)
	second.answer <- http.StatusOK
	require.Eventually(t, func() bool {
		_, list := s.send(t, http.MethodGet, "/v1/webhooks", nil)
		var hooks struct{ Rows []struct{ ID string } }
		if json.Unmarshal([]byte(list), &hooks) != nil || len(hooks.Rows) != 1 {
			return false
		}
		_, body = s.send(t, http.MethodGet, "/v1/webhooks/"+hooks.Rows[0].ID+"/deliveries", nil)
		return strings.Contains(body, `"state":"delivered"`)
	}, time.Minute, 20*time.Millisecond, "%s", body)
	require.Contains(t, body, `"attempts":1`, "the attempt that was cut short does not count")
	s.stop(syscall.SIGTERM)
}

func TestMetricsAndTracesOfTheProgram(t *testing.T) {
	t.Parallel()
	var mu sync.Mutex
	var spans bytes.Buffer
	collector := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		defer mu.Unlock()
		if r.URL.Path == "/v1/traces" {
			_, _ = spans.ReadFrom(r.Body)
		}
	}))
	defer collector.Close()
	s := serve(t, []string{"OTEL_EXPORTER_OTLP_ENDPOINT=" + collector.URL}, "", "--metrics", "127.0.0.1:0")
	metrics := ""
	for _, line := range s.lines {
		if _, address, ok := strings.Cut(line, "metrics on "); ok {
			metrics = strings.TrimRight(address, `"`)
		}
	}
	require.NotEmpty(t, metrics)
	res, _ := s.send(t, http.MethodGet, "/v1/sites/"+s.site+"/prep.ics?key=not-for-others", nil)
	require.NotEqual(t, http.StatusOK, res.StatusCode)
	res, body := s.send(t, http.MethodPost, "/v1/plan-previews", s.request)
	require.Equal(t, http.StatusOK, res.StatusCode, body)
	for _, method := range []string{"MADE", "UP"} {
		res, _ = s.send(t, method, "/no/such/address", nil)
		require.Equal(t, http.StatusNotFound, res.StatusCode)
	}
	code, text := get(t, metrics, "")
	require.Equal(t, http.StatusOK, code)
	for _, line := range []string{
		`hotday_http_requests_total{method="POST",route="/v1/plan-previews",status="200"} 1`,
		`hotday_http_requests_total{method="none",route="none",status="404"} 2`,
		`hotday_plan_duration_seconds_count{by="request"} 1`,
		`hotday_database_up 1`, `hotday_sites 1`,
	} {
		require.Contains(t, text, line+"\n")
	}
	require.NotContains(t, text, "not-for-others")
	code, _ = get(t, strings.TrimSuffix(metrics, "/metrics")+"/v1/sites", s.key)
	require.Equal(t, http.StatusNotFound, code, "the port of the metrics has nothing else")
	code, _ = get(t, s.address+"/metrics", s.key)
	require.Equal(t, http.StatusNotFound, code, "the metrics have a port of their own")

	s.stop(syscall.SIGTERM)
	mu.Lock()
	defer mu.Unlock()
	sent := spans.String()
	for _, word := range []string{"service.name", "hotday", "/v1/plan-previews", "compute plan", "/v1/sites/:site/prep.ics"} {
		require.Contains(t, sent, word)
	}
	require.NotContains(t, sent, "not-for-others", "no query is sent")
	require.NotContains(t, sent, s.key)
}
