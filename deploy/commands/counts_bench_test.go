package commands

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
)

// BenchmarkCountsWhileSitesLearnAndPlan posts a count every 25 ms over loopback while eight sites learn their first night and plan the days
// after, and reports how long the till waited. Run it with -benchtime 1200x: half a minute.
func BenchmarkCountsWhileSitesLearnAndPlan(b *testing.B) {
	const sites, every = 8, 25 * time.Millisecond
	ctx, stop := context.WithCancel(b.Context())
	defer stop()
	p, err := open(ctx, Serve{DB: filepath.Join(b.TempDir(), "shops.db"), Listen: "127.0.0.1:0", Grace: time.Second}, slog.New(slog.DiscardHandler), settings{})
	require.NoError(b, err)
	story, err := demo.At(time.Now())
	require.NoError(b, err)
	today := story.Setup.Site.ServiceDayOf(story.Now)
	for n := range sites {
		story.Setup.Site.Code = fmt.Sprint("shop-", n)
		require.NoError(b, story.Keep(ctx, p.store, func(string, ...any) {}))
	}
	_, key, err := p.store.AddToken(ctx, models.Token{Name: "till", Scopes: []string{models.ScopeManage}}, time.Now())
	require.NoError(b, err)
	post := func(n int) time.Duration {
		end := time.Now().Add(-time.Hour).Truncate(15 * time.Minute)
		body := fmt.Sprintf(`{"source":"till-9","counts":[{"item":"I-%d","window_start":%q,"window_end":%q,"count":7}]}`, n,
			end.Add(-15*time.Minute).Format(time.RFC3339), end.Format(time.RFC3339))
		began := time.Now()
		req, err := http.NewRequestWithContext(ctx, http.MethodPost, fmt.Sprintf("%s/v1/sites/shop-%d/sales-counts", p.Address(), n%sites), bytes.NewReader([]byte(body)))
		require.NoError(b, err)
		req.Header.Set("Authorization", "Bearer "+key)
		req.Header.Set("Content-Type", "application/json")
		res, err := http.DefaultClient.Do(req)
		require.NoError(b, err)
		answer, err := io.ReadAll(res.Body)
		require.NoError(b, err)
		require.Equal(b, http.StatusOK, res.StatusCode, "%s", answer)
		require.NoError(b, res.Body.Close())
		return time.Since(began)
	}
	ended := make(chan error, 1)
	go func() { ended <- p.Run(ctx) }()
	for n := range 50 {
		post(n)
	}
	for n := range sites {
		site := fmt.Sprint("shop-", n)
		_, err := p.store.Enqueue(ctx, models.Job{Kind: models.JobRefit, Site: site, Key: "benchmark"})
		require.NoError(b, err)
		for day := range 7 {
			_, err := p.store.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: site, Key: string(today.AddDays(day + 1))})
			require.NoError(b, err)
		}
	}
	var took []time.Duration
	tick := time.NewTicker(every)
	defer tick.Stop()
	n := 50
	for b.Loop() {
		<-tick.C
		took = append(took, post(n))
		n++
	}
	q, err := p.store.QueueState(ctx)
	require.NoError(b, err)
	learnt := 0
	for n := range sites {
		if s, err := p.store.ForecastState(ctx, fmt.Sprint("shop-", n)); err == nil && s.Learnt != nil {
			learnt++
		}
	}
	slices.Sort(took)
	for name, x := range map[string]float64{"p50-ms": 0.5, "p99-ms": 0.99, "max-ms": 1} {
		b.ReportMetric(float64(took[int(x*float64(len(took)-1))].Microseconds())/1000, name)
	}
	b.ReportMetric(float64(learnt), "sites-learnt")
	b.ReportMetric(float64(q.Due+q.Running), "jobs-left")
	stop()
	require.NoError(b, <-ended)
	require.NoError(b, p.Close())
}
