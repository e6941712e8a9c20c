package telemetry

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"hotday/models"
	"hotday/models/store"
)

var now = time.Date(2026, 7, 10, 15, 0, 0, 0, time.UTC)

const site = "harbour"

// watched returns metrics that have heard of everything once, and the store they watch.
func watched(t *testing.T) (*Metrics, *store.Store) {
	t.Helper()
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	require.NoError(t, err)
	_, _, err = st.PutSetup(t.Context(), models.Setup{Site: models.Site{Code: site, Timezone: "Europe/Rome"}}, "", now)
	require.NoError(t, err)
	_, err = st.PutCounts(t.Context(), site, models.SalesPost{Source: "till", Counts: []models.SalesCount{{Item: "a", WindowStart: now.Add(-time.Hour), WindowEnd: now, Count: 1}}}, now, "", "")
	require.NoError(t, err)
	inside, off := 76.0, 21.0
	require.NoError(t, st.PutTrackRecord(t.Context(), site, models.TrackRecord{All: models.Record{Forecast: models.Score{InsidePct: &inside, OffPct: &off}}}))
	m := NewMetrics(Build{Version: "v1", Schema: "18"})
	m.WatchDatabase(st, func(err error) { t.Error(err) })
	m.Request("GET", "/v1/sites", 200, time.Second)
	m.StreamOpened()
	m.Planned("job", models.Plan{Cost: models.Cost{GapPct: 3}}, 2*time.Second)
	m.Job(models.JobWatch, models.OutcomeDone, time.Second)
	return m, st
}

// names returns the metrics that there are, by name, with the names that Prometheus derives of histograms.
func names(t *testing.T, m *Metrics) (all, families []string) {
	t.Helper()
	got, err := m.registry.Gather()
	require.NoError(t, err)
	for _, f := range got {
		require.NotEmpty(t, f.GetHelp(), f.GetName())
		all, families = append(all, f.GetName()), append(families, f.GetName())
		if f.GetType().String() == "HISTOGRAM" {
			all = append(all, f.GetName()+"_bucket", f.GetName()+"_sum", f.GetName()+"_count")
		}
	}
	return all, families
}

func read(t *testing.T, path ...string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(append([]string{".."}, path...)...))
	require.NoError(t, err)
	return string(data)
}

func TestEveryMetricIsExplainedAndNoOther(t *testing.T) {
	t.Parallel()
	m, st := watched(t)
	defer st.Close()
	_, families := names(t, m)
	var ours, explained []string
	for _, name := range families {
		if strings.HasPrefix(name, "hotday_") {
			ours = append(ours, name)
		}
	}
	for _, row := range regexp.MustCompile("(?m)^\\| `(hotday_\\w+)`( \\*)? \\|").FindAllStringSubmatch(read(t, "metrics.md"), -1) {
		explained = append(explained, row[1])
	}
	slices.Sort(explained)
	require.Equal(t, ours, explained)
}

// used finds the metrics in an expression.
var used = regexp.MustCompile(`\b(?:hotday|process|go|promhttp)_\w+`)

func TestAlertsAndTheDashboardUseMetricsThatExist(t *testing.T) {
	t.Parallel()
	m, st := watched(t)
	defer st.Close()
	all, _ := names(t, m)

	var rules struct {
		Groups []struct {
			Rules []struct {
				Alert, Expr, For string
				Labels           map[string]string
				Annotations      map[string]string
			}
		}
	}
	require.NoError(t, yaml.Unmarshal([]byte(read(t, "monitoring", "alerts.yaml")), &rules))
	guide := read(t, "metrics.md")
	var alerts, inGuide []string
	for _, r := range rules.Groups[0].Rules {
		alerts = append(alerts, r.Alert)
		require.NotEmpty(t, r.For, r.Alert)
		require.Contains(t, []string{"page", "warn", "info"}, r.Labels["severity"], r.Alert)
		require.Contains(t, guide, "| `"+r.Alert+"` | "+r.Labels["severity"]+" |")
		require.NotEmpty(t, r.Annotations["summary"], r.Alert)
		require.Contains(t, guide, r.Annotations["description"], "%s says the same in both places", r.Alert)
		for _, name := range used.FindAllString(r.Expr, -1) {
			require.Contains(t, all, name, r.Alert)
		}
	}
	for _, row := range regexp.MustCompile("(?m)^\\| `(Hotday\\w+)` \\|").FindAllStringSubmatch(guide, -1) {
		inGuide = append(inGuide, row[1])
	}
	require.Equal(t, alerts, inGuide)

	shown := ""
	for _, file := range []string{"dashboard.json", "fleet.json"} {
		var board struct {
			Panels []struct {
				Title, Description string
				Targets            []struct{ Expr string }
			}
		}
		require.NoError(t, json.Unmarshal([]byte(read(t, "monitoring", file)), &board))
		require.NotEmpty(t, board.Panels)
		require.Contains(t, guide, "`monitoring/"+file+"`")
		for _, p := range board.Panels {
			require.NotEmpty(t, p.Description, p.Title)
			require.NotEmpty(t, p.Targets, p.Title)
			for _, target := range p.Targets {
				found := used.FindAllString(target.Expr, -1)
				require.NotEmpty(t, found, p.Title)
				for _, name := range found {
					require.Contains(t, all, name, p.Title)
				}
				if file == "dashboard.json" {
					shown += target.Expr + "\n"
				}
			}
		}
	}
	for _, what := range []string{"hotday_queue_oldest_due_seconds", "hotday_plan_gap_ratio", "hotday_forecast_coverage_ratio", "hotday_database_bytes", "hotday_http_requests_total"} {
		require.Contains(t, shown, what, "the dashboard shows it")
	}
}

func TestMetricsOfTheDatabase(t *testing.T) {
	t.Parallel()
	m, st := watched(t)
	for _, j := range []models.Job{{Kind: models.JobPublish, Site: site, Key: "now"}, {Kind: models.JobPublish, Site: site, Key: "later", RunAt: time.Now().Add(time.Hour)}} {
		_, err := st.Enqueue(t.Context(), j)
		require.NoError(t, err)
	}
	require.NoError(t, testutil.GatherAndCompare(m.registry, strings.NewReader(`
# HELP hotday_database_up 1 if the database could be read for these metrics, else 0.
# TYPE hotday_database_up gauge
hotday_database_up 1
# HELP hotday_forecast_coverage_ratio Share of counts inside the forecast's 10 to 90% range, over the kept track record; 0.8 if it is calibrated.
# TYPE hotday_forecast_coverage_ratio gauge
hotday_forecast_coverage_ratio{site="harbour"} 0.76
# HELP hotday_forecast_error_ratio Weighted absolute percentage error of the forecast's medians, over the kept track record.
# TYPE hotday_forecast_error_ratio gauge
hotday_forecast_error_ratio{site="harbour"} 0.21
# HELP hotday_queue_jobs Jobs in the queue by state: due, later (scheduled or to be tried again) and running.
# TYPE hotday_queue_jobs gauge
hotday_queue_jobs{state="due"} 1
hotday_queue_jobs{state="later"} 1
hotday_queue_jobs{state="running"} 0
# HELP hotday_site_last_count_timestamp_seconds When sales counts of the site last arrived.
# TYPE hotday_site_last_count_timestamp_seconds gauge
hotday_site_last_count_timestamp_seconds{site="harbour"} 1.7836956e+09
# HELP hotday_sites Sites that are set up.
# TYPE hotday_sites gauge
hotday_sites 1
`), "hotday_database_up", "hotday_forecast_coverage_ratio", "hotday_forecast_error_ratio", "hotday_queue_jobs", "hotday_site_last_count_timestamp_seconds", "hotday_sites"))
	require.NoError(t, st.Close())

	blind := NewMetrics(Build{})
	failed := errors.New("not called")
	blind.WatchDatabase(st, func(err error) { failed = err })
	require.NoError(t, testutil.GatherAndCompare(blind.registry, strings.NewReader(`
# HELP hotday_database_up 1 if the database could be read for these metrics, else 0.
# TYPE hotday_database_up gauge
hotday_database_up 0
`), "hotday_database_up", "hotday_sites"))
	require.ErrorContains(t, failed, "closed")
}

func TestStrangersCannotMakeSeries(t *testing.T) {
	t.Parallel()
	m := NewMetrics(Build{})
	for _, method := range []string{"GET", "MADE", "UP"} {
		m.Request(method, "", 404, time.Millisecond)
	}
	require.Equal(t, 1, testutil.CollectAndCount(m.requests))
	require.Equal(t, 1, testutil.CollectAndCount(m.latencies))
}

func TestOnlyDoneJobsCountAsSuccess(t *testing.T) {
	t.Parallel()
	m := NewMetrics(Build{})
	m.Job(models.JobRefit, models.OutcomeFailed, time.Second)
	require.Zero(t, testutil.CollectAndCount(m.succeeded))
	m.Job(models.JobRefit, models.OutcomeDone, time.Second)
	require.InDelta(t, float64(time.Now().Unix()), testutil.ToFloat64(m.succeeded.WithLabelValues(models.JobRefit)), 600)
}

func TestTracesAreOffUnlessTheEnvironmentAsksForThem(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		env  map[string]string
		on   bool
		fail string
	}{
		"nothing":         {},
		"endpoint":        {env: map[string]string{"OTEL_EXPORTER_OTLP_ENDPOINT": "http://127.0.0.1:1"}, on: true},
		"traces endpoint": {env: map[string]string{"OTEL_EXPORTER_OTLP_TRACES_ENDPOINT": "http://127.0.0.1:1/v1/traces"}, on: true},
		"disabled":        {env: map[string]string{"OTEL_EXPORTER_OTLP_ENDPOINT": "http://127.0.0.1:1", "OTEL_SDK_DISABLED": "true"}},
		"no exporter":     {env: map[string]string{"OTEL_EXPORTER_OTLP_ENDPOINT": "http://127.0.0.1:1", "OTEL_TRACES_EXPORTER": "none"}},
		"other protocol":  {env: map[string]string{"OTEL_EXPORTER_OTLP_ENDPOINT": "http://127.0.0.1:1", "OTEL_EXPORTER_OTLP_PROTOCOL": "grpc"}, fail: "http/protobuf"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			provider, end, err := Traces(context.Background(), func(key string) string { return c.env[key] }, "v1", slog.New(slog.DiscardHandler))
			if c.fail != "" {
				require.ErrorContains(t, err, c.fail)
				return
			}
			require.NoError(t, err)
			require.Equal(t, c.on, provider != nil)
			require.NoError(t, end(context.Background()))
		})
	}
}
