package api_test

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime"
	"runtime/metrics"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// repeated is a document of one item again and again, without taking its memory.
type repeated struct {
	before, after string
	item          string
	n             int // items
}

func (r repeated) size() int64 {
	return int64(len(r.before) + r.n*(len(r.item)+1) - 1 + len(r.after))
}

func (r repeated) reader() io.Reader {
	parts := []io.Reader{strings.NewReader(r.before)}
	block := strings.Repeat(r.item+",", 4096)
	for left := r.n; left > 0; left -= 4096 {
		text := block
		if left <= 4096 {
			text = block[:left*(len(r.item)+1)-1]
		}
		parts = append(parts, strings.NewReader(text))
	}
	return io.MultiReader(append(parts, strings.NewReader(r.after))...)
}

// filled is a document of so many MiB.
func filled(mib int, before, item, after string) repeated {
	return repeated{before, after, item, (mib<<20 - len(before) - len(after)) / (len(item) + 1)}
}

// The worst documents, by those of their lists that become largest, posted to the routes that take large bodies from several callers
// at once, take no more memory than the budgets allow. Not parallel: it looks at the memory of the process.
func TestWorstBodiesTakeBoundedMemory(t *testing.T) {
	const most = 300 // MiB of heap; the process takes less than 400 with its database
	b := newBundle(t)
	b.setUp("quay")
	callers := []string{b.token, b.newToken("quay", models.ScopeManage), b.newToken("quay", models.ScopeSales), b.newToken("quay", models.ScopeRead)}
	type post struct {
		method, path, media string
		documents           []repeated
	}
	json := func(method, path string, documents ...repeated) post {
		return post{method, path, "application/json", append(documents, filled(16, `[`, `{}`, `]`))}
	}
	empty := func(list string) repeated { return filled(4, `{"`+list+`":[`, `{}`, `]}`) }
	posts := []post{
		json("POST", "/v1/plan-previews", empty("demand"), empty("drinks")), json("POST", "/v1/calc/batches", empty("brewers")), json("POST", "/v1/calc/forecast", empty("history")),
		json("POST", "/v1/calc/fit", empty("brews")), json("POST", "/v1/calc/lot-size", filled(4, `{"demand":[`, `0`, `],"setup":[0]}`)),
		json("PUT", "/v1/sites/quay/setup", empty("drinks"), empty("coffees")), json("PUT", "/v1/sites/quay/setup/drinks", filled(4, `[`, `{}`, `]`)),
		json("POST", "/v1/sites/quay/sales-counts", filled(2, `{"counts":[`, `{}`, `]}`)),
		{"POST", "/v1/sites/quay/sales-files?source=book", "text/csv", []repeated{
			filled(16, "item,start,end,count\n", "A,2026-07-09 10:00,2026-07-09 11:00,4\nB,2026-07-09 10:00,2026-07-09 11:00,4\n", ""), filled(16, "item,start,end,count\n", "\n,,", ""), filled(16, `[`, `{}`, `]`)}},
	}
	peak := watchHeap(t)
	var wg sync.WaitGroup
	var refused atomic.Int32
	for _, key := range callers {
		for range 3 {
			wg.Go(func() {
				for _, at := range posts {
					for _, doc := range at.documents {
						req, err := http.NewRequest(at.method, b.base+at.path, io.NopCloser(doc.reader()))
						if err != nil {
							panic(err)
						}
						req.ContentLength = doc.size()
						req.Header.Set("Content-Type", at.media)
						req.Header.Set("Authorization", "Bearer "+key)
						res, err := http.DefaultClient.Do(req)
						if err != nil { // the service closes a connection whose body it does not read
							continue
						}
						_, _ = io.Copy(io.Discard, res.Body)
						_ = res.Body.Close()
						if res.StatusCode == 429 || res.StatusCode == 503 {
							refused.Add(1)
						}
						if res.StatusCode == 500 {
							t.Errorf("%s %s: %d", at.method, at.path, res.StatusCode)
						}
					}
				}
			})
		}
	}
	wg.Wait()
	highest := peak()
	t.Logf("at most %d MiB of heap, %d requests refused", highest>>20, refused.Load())
	require.Less(t, highest>>20, uint64(most))
	b.get("/v1/sites").is(200)
}

// watchHeap samples the size of the heap; the function it returns ends that and returns the highest.
func watchHeap(t *testing.T) (peak func() uint64) {
	t.Helper()
	runtime.GC()
	stop, done := make(chan struct{}), make(chan uint64)
	go func() {
		tick := time.NewTicker(2 * time.Millisecond)
		defer tick.Stop()
		sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
		var highest uint64
		for {
			metrics.Read(sample)
			highest = max(highest, sample[0].Value.Uint64())
			select {
			case <-tick.C:
			case <-stop:
				done <- highest
				return
			}
		}
	}()
	return func() uint64 { close(stop); return <-done }
}

func TestABodyIsNotReadBeforeTheCallerIsKnown(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	for _, token := range []string{"-", "hotday_wrong", b.newToken("quay", models.ScopeRead)} {
		req := fmt.Sprintf("PUT /v1/sites/quay/setup HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: %d\r\n", 4<<20)
		if token != "-" {
			req += "Authorization: Bearer " + token + "\r\n"
		}
		c, err := net.Dial("tcp", strings.TrimPrefix(b.base, "http://"))
		require.NoError(t, err)
		_, err = io.WriteString(c, req+"\r\n")
		require.NoError(t, err)
		answer := make([]byte, 12)
		_, err = io.ReadFull(c, answer) // none of the body is sent
		require.NoError(t, err)
		require.Contains(t, []string{"HTTP/1.1 401", "HTTP/1.1 403"}, string(answer))
		require.NoError(t, c.Close())
	}
}

func TestStrangersSendSmallBodiesOnly(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	for _, path := range []string{"/v1/session", "/v1/welcome", "/v1/screen-pairings"} {
		a := b.raw(call{method: "POST", path: path, token: "-", body: bytes.Repeat([]byte(" "), 17<<10)}).is(413)
		require.Contains(t, string(a.body), "16 KiB")
	}
}

// A caller that sends bodies and never ends them is told so, while another's are answered.
func TestUnfinishedBodiesOfOneCallerDoNotHoldUpAnother(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	bad := b.newToken("quay", models.ScopeSales)
	for range 3 {
		c, err := net.Dial("tcp", strings.TrimPrefix(b.base, "http://"))
		require.NoError(t, err)
		t.Cleanup(func() { _ = c.Close() })
		_, err = fmt.Fprintf(c, "POST /v1/sites/quay/sales-files?source=book HTTP/1.1\r\nHost: x\r\nContent-Type: text/csv\r\nAuthorization: Bearer %s\r\nContent-Length: %d\r\n\r\nitem", bad, 16<<20)
		require.NoError(t, err)
	}
	require.Eventually(t, func() bool {
		a := b.do(call{method: "POST", path: "/v1/sites/quay/sales-files?source=book", token: bad, body: strings.Repeat("x", 40<<10), header: map[string]string{"Content-Type": "text/csv"}})
		if a.status != 429 {
			return false
		}
		require.Contains(t, a.problem().Detail, "16 MiB")
		require.NotEmpty(t, a.header.Get("Retry-After"))
		return true
	}, time.Minute, 10*time.Millisecond)
	b.do(call{method: "POST", path: "/v1/sites/quay/sales-files?source=book", body: strings.Repeat("x", 40<<10), header: map[string]string{"Content-Type": "text/csv"}}).is(422)
	b.post("/v1/sites/quay/sales-counts", sales(saleRow(nil))).is(200)
}
