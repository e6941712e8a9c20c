package deploy_test

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// example returns the command of an example, built if it is in Go.
func example(t *testing.T, name, file string) string {
	t.Helper()
	if file != "" {
		path, err := filepath.Abs(filepath.Join("examples", name, file))
		require.NoError(t, err)
		return path
	}
	built := filepath.Join(t.TempDir(), name)
	run(t, ".", nil, "go", "build", "-o", built, "./examples/"+name)
	return built
}

// soon waits until something is so.
func soon(t *testing.T, what string, so func() bool) {
	t.Helper()
	for end := time.Now().Add(hangTimeout); !so(); time.Sleep(50 * time.Millisecond) {
		require.True(t, time.Now().Before(end), what)
	}
}

func TestWebhookReceiversKeepEachEventOnce(t *testing.T) {
	t.Parallel()
	t.Run("Go", func(t *testing.T) {
		t.Parallel()
		receives(t, example(t, "webhook-go", ""))
	})
	t.Run("Python", func(t *testing.T) {
		t.Parallel()
		needs(t, "python3", "the webhook receiver in Python")
		receives(t, example(t, "webhook-python", "receiver.py"))
	})
}

func receives(t *testing.T, receiver string) {
	s := serve(t, nil, "", "--private-webhooks")
	free, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	address := free.Addr().String()
	require.NoError(t, free.Close())
	var hook struct{ ID, Secret string }
	_, body := s.send(t, http.MethodPost, "/v1/webhooks", map[string]any{"url": "http://" + address + "/", "events": []string{"drink.off_sale"}, "site": s.site})
	require.NoError(t, json.Unmarshal([]byte(body), &hook), body)

	file := filepath.Join(t.TempDir(), "events.jsonl")
	begin := func() (end func()) {
		cmd := exec.CommandContext(t.Context(), receiver, address, file)
		cmd.Env = append(os.Environ(), "HOTDAY_WEBHOOK_SECRET="+hook.Secret)
		require.NoError(t, cmd.Start())
		soon(t, "the receiver listens", func() bool {
			c, err := net.Dial("tcp", address)
			if err == nil {
				_ = c.Close()
			}
			return err == nil
		})
		return func() {
			_ = cmd.Process.Kill()
			_ = cmd.Wait()
		}
	}
	kept := func() (ids []string) {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		for line := range strings.Lines(string(text)) {
			var event struct {
				ID   string
				Body models.HookBody
			}
			require.NoError(t, json.Unmarshal([]byte(line), &event), line)
			ids = append(ids, event.ID)
		}
		return ids
	}
	end := begin()
	drink := s.request["drinks"].([]any)[0].(map[string]any)["code"]
	res, body := s.send(t, http.MethodPost, "/v1/sites/"+s.site+"/off-sale", map[string]any{"rows": []any{map[string]any{"drink": drink, "from": time.Now().Format(time.RFC3339), "to": nil}}})
	require.Equal(t, http.StatusOK, res.StatusCode, body)
	delivered := func() (first models.Delivery) {
		var list models.Rows[models.Delivery]
		_, body := s.send(t, http.MethodGet, "/v1/webhooks/"+hook.ID+"/deliveries", nil)
		require.NoError(t, json.Unmarshal([]byte(body), &list), body)
		if len(list.Rows) > 0 {
			first = list.Rows[0]
		}
		return first
	}
	soon(t, "the event is delivered", func() bool { return delivered().State == models.DeliveryDelivered })
	sent := delivered()
	require.Equal(t, []string{sent.ID}, kept())
	res, body = s.send(t, http.MethodPost, "/v1/webhooks/"+hook.ID+"/deliveries/"+sent.ID+"/replay", map[string]any{})
	require.Equal(t, http.StatusOK, res.StatusCode, body)
	soon(t, "it is delivered again", func() bool { return delivered().State == models.DeliveryDelivered })
	require.Equal(t, []string{sent.ID}, kept(), "each once")

	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(hook.Secret, "whsec_"))
	require.NoError(t, err)
	post := func(id string, at time.Time, key []byte, before string) int {
		stamp, body := fmt.Sprint(at.Unix()), `{"type":"drink.off_sale","timestamp":"2026-07-10T12:00:00Z","site":"x","data":{}}`
		mac := hmac.New(sha256.New, key)
		fmt.Fprintf(mac, "%s.%s.%s", id, stamp, body)
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://"+address+"/", strings.NewReader(body))
		require.NoError(t, err)
		req.Header.Set("webhook-id", id)
		req.Header.Set("webhook-timestamp", stamp)
		req.Header.Set("webhook-signature", before+"v1,"+base64.StdEncoding.EncodeToString(mac.Sum(nil)))
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res.StatusCode
	}
	now := time.Now()
	require.Equal(t, http.StatusUnauthorized, post("forged", now, []byte("another key"), ""))
	require.Equal(t, http.StatusUnauthorized, post("old", now.Add(-10*time.Minute), key, ""))
	require.Equal(t, http.StatusUnauthorized, post("ahead", now.Add(10*time.Minute), key, ""))
	require.Equal(t, http.StatusNoContent, post("rotated", now, key, "v1,AAAA v2,x "), "one of several signatures")
	require.Equal(t, []string{sent.ID, "rotated"}, kept())
	end()
	end = begin()
	defer end()
	require.Equal(t, http.StatusNoContent, post("rotated", now, key, ""))
	require.Equal(t, []string{sent.ID, "rotated"}, kept(), "also over a restart")
	s.stop(os.Interrupt)
}

func TestTillsLoseNoCountAndPostNoneTwice(t *testing.T) {
	t.Parallel()
	t.Run("shell", func(t *testing.T) {
		t.Parallel()
		needs(t, "curl", "the till in shell")
		sells(t, example(t, "till-curl", "till.sh"))
	})
	t.Run("Go", func(t *testing.T) {
		t.Parallel()
		sells(t, example(t, "till-go", ""))
	})
	t.Run("Python", func(t *testing.T) {
		t.Parallel()
		needs(t, "python3", "the till in Python")
		sells(t, example(t, "till-python", "till.py"))
	})
}

// link is the way from a till to the service, which fails as the test wants.
type link struct {
	service *url.URL
	mu      sync.Mutex
	mode    string // "": as usual; "busy": 503, "hang": the service gets the post, the till no answer
	keys    []string
	at      []time.Time
	tried   chan struct{}
	gone    chan struct{} // closed when the till that hangs has been killed; what it had started may live on
}

func (l *link) set(mode string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.mode = mode
}

// posts are the keys and times of the posts so far.
func (l *link) posts() (keys []string, at []time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.keys), slices.Clone(l.at)
}

func (l *link) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	l.mu.Lock()
	mode := l.mode
	l.keys, l.at = append(l.keys, r.Header.Get("Idempotency-Key")), append(l.at, time.Now())
	l.mu.Unlock()
	if mode == "busy" {
		w.Header().Set("Retry-After", "2")
		w.WriteHeader(http.StatusServiceUnavailable)
		l.tried <- struct{}{}
		return
	}
	req, err := http.NewRequestWithContext(r.Context(), r.Method, l.service.String()+r.URL.Path, r.Body)
	if err != nil {
		panic(err)
	}
	req.Header = r.Header
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		w.WriteHeader(http.StatusBadGateway)
		return
	}
	defer res.Body.Close()
	if mode == "hang" {
		l.tried <- struct{}{}
		<-l.gone
		return
	}
	w.WriteHeader(res.StatusCode)
	_, _ = io.Copy(w, res.Body)
}

func sells(t *testing.T, till string) {
	s := serve(t, nil, "")
	key, _, exit := hotday(t, "", "token", "new", "--db", s.db, "--scope", "sales", "--site", s.site, "--name", "till")
	require.Zero(t, exit)
	service, err := url.Parse(s.address)
	require.NoError(t, err)
	way := &link{service: service, tried: make(chan struct{}, 100), gone: make(chan struct{})}
	proxy := httptest.NewServer(way)
	t.Cleanup(proxy.Close)
	spool := filepath.Join(t.TempDir(), "spool")
	command := func(args ...string) *exec.Cmd {
		cmd := exec.CommandContext(t.Context(), till, args...)
		cmd.Env = append(os.Environ(), "HOTDAY_URL="+proxy.URL, "HOTDAY_SITE="+s.site, "HOTDAY_KEY="+strings.TrimSpace(key), "SPOOL="+spool)
		return cmd
	}
	does := func(args ...string) {
		out, err := command(args...).CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	killed := func(mode string) { // while it sends
		way.set(mode)
		cmd := command("send")
		require.NoError(t, cmd.Start())
		<-way.tried
		require.NoError(t, cmd.Process.Kill())
		_ = cmd.Wait()
	}
	spooled := func(pattern string) int {
		list, err := filepath.Glob(filepath.Join(spool, pattern))
		require.NoError(t, err)
		return len(list)
	}
	stored := func() (counts []float64) {
		var rows models.Rows[models.SalesRow]
		_, body := s.send(t, http.MethodGet, "/v1/sites/"+s.site+"/sales-counts", nil)
		require.NoError(t, json.Unmarshal([]byte(body), &rows), body)
		for _, r := range rows.Rows {
			counts = append(counts, r.Count)
		}
		return counts
	}
	at := time.Now().Add(-2 * time.Hour).Truncate(time.Hour)
	start, end := at.Format(time.RFC3339), at.Add(15*time.Minute).Format(time.RFC3339)

	does("add", "GLASS", start, end, "7")
	killed("busy") // between spool and post
	require.Empty(t, stored())
	require.Equal(t, 1, spooled("*.json"))
	killed("hang") // between post and answer
	close(way.gone)
	require.Equal(t, []float64{7}, stored())
	require.Equal(t, 1, spooled("*.json"))
	way.set("")
	does("send")
	require.Equal(t, []float64{7}, stored())
	require.Zero(t, spooled("*.json"))
	first, before := way.posts()
	require.GreaterOrEqual(t, len(first), 3)
	for _, key := range first {
		require.Equal(t, first[0], key, "the same key at each attempt")
		require.NotEmpty(t, key)
	}

	// Retry-After is waited for.
	does("add", "GLASS", start, end, "8")
	way.set("busy")
	tries := len(before)
	sending := command("send")
	require.NoError(t, sending.Start())
	<-way.tried
	way.set("")
	require.NoError(t, sending.Wait())
	require.Equal(t, []float64{8}, stored(), "the later total of the window")
	keys, times := way.posts()
	require.GreaterOrEqual(t, times[tries+1].Sub(times[tries]), 1900*time.Millisecond)
	require.NotEqual(t, first[0], keys[len(keys)-1], "another count has another key")

	// What will never be taken is set aside and holds nothing up.
	does("add", "GLASS", end, start, "9")
	does("add", "JUG", start, end, "2")
	does("send")
	require.ElementsMatch(t, []float64{8, 2}, stored())
	require.Zero(t, spooled("*.json"))
	why, err := filepath.Glob(filepath.Join(spool, "refused", "*.why"))
	require.NoError(t, err)
	require.Len(t, why, 1)
	require.Contains(t, file(t, why[0]), "window_end")
	require.Equal(t, 1, spooled(filepath.Join("refused", "*.json")))
	s.stop(os.Interrupt)
}

func TestIceSensorPostsWhatIsInTheBin(t *testing.T) {
	t.Parallel()
	needs(t, "python3", "the ice-level sensor")
	s := serve(t, nil, "")
	key, _, exit := hotday(t, "", "token", "new", "--db", s.db, "--scope", "kitchen", "--site", s.site, "--name", "ice bin")
	require.Zero(t, exit)
	sensor := exec.CommandContext(t.Context(), example(t, "ice-sensor", "sensor.py"))
	sensor.Env = append(os.Environ(), "HOTDAY_URL="+s.address, "HOTDAY_SITE="+s.site, "HOTDAY_KEY="+strings.TrimSpace(key), "BIN_KG=20")
	sensor.Stdin = strings.NewReader("80\n81\nloose wire\n300\n60\n")
	out, err := sensor.CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.Contains(t, string(out), "'loose wire' is not a level from 0 to 100")
	var counts models.Rows[models.StockCount]
	_, body := s.send(t, http.MethodGet, "/v1/sites/"+s.site+"/stock-counts", nil)
	require.NoError(t, json.Unmarshal([]byte(body), &counts), body)
	var grams []float64
	for _, c := range counts.Rows {
		grams = append(grams, *c.IceG)
	}
	require.ElementsMatch(t, []float64{16000, 12000}, grams)
	s.stop(os.Interrupt)
}
