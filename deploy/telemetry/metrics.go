// Package telemetry shows whoever runs the service what is going on: metrics for Prometheus and traces for OpenTelemetry. Each metric is
// explained in deploy/metrics.md.
package telemetry

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"hotday/models"
)

// Metrics are the metrics of one process. It implements api.Measures and jobs.Measures.
type Metrics struct {
	registry  *prometheus.Registry
	requests  *prometheus.CounterVec
	latencies *prometheus.HistogramVec
	streams   prometheus.Gauge
	jobs      *prometheus.CounterVec
	jobTimes  *prometheus.HistogramVec
	succeeded *prometheus.GaugeVec
	planTimes *prometheus.HistogramVec
	planGaps  *prometheus.HistogramVec
}

// Build says what the process was built from; each field is a label of hotday_build_info.
type Build struct{ Version, Commit, Go, SQLite, Schema string }

// Buckets of the histograms.
var (
	latencyBuckets = []float64{.002, .005, .01, .02, .05, .1, .2, .5, 1, 2, 5, 10, 30} // seconds
	jobBuckets     = []float64{.05, .2, .5, 1, 2, 5, 10, 30, 60, 120, 300, 600}        // seconds
	planBuckets    = []float64{.05, .1, .2, .5, 1, 2, 5, 10, 20, 60, 120, 300}         // seconds
	gapBuckets     = []float64{0, .001, .005, .01, .02, .05, .1, .2, .5, 1}            // ratios
)

// NewMetrics makes the metrics of a process.
func NewMetrics(b Build) *Metrics {
	m := &Metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "hotday_http_requests_total",
			Help: "Requests answered, by route and status. Open live streams count when they end with another status than 200."}, []string{"method", "route", "status"}),
		latencies: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "hotday_http_request_duration_seconds", Buckets: latencyBuckets,
			Help: "Time from the request's header to the end of the response, by route."}, []string{"method", "route"}),
		streams: prometheus.NewGauge(prometheus.GaugeOpts{Name: "hotday_live_streams", Help: "Open live streams of screens and pages."}),
		jobs: prometheus.NewCounterVec(prometheus.CounterOpts{Name: "hotday_jobs_total",
			Help: "Attempts of jobs, by kind and outcome: done, failed (tried again later), timed_out (the same) or handed_back (at shutdown)."}, []string{"kind", "outcome"}),
		jobTimes: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "hotday_job_duration_seconds", Buckets: jobBuckets,
			Help: "Time of one attempt of a job, with its effect on the database."}, []string{"kind"}),
		succeeded: prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "hotday_job_last_success_timestamp_seconds",
			Help: "When a job of the kind was last done by this process."}, []string{"kind"}),
		planTimes: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "hotday_plan_duration_seconds", Buckets: planBuckets,
			Help: "Time to compute a plan, without waiting for a place, by who asked: request or job."}, []string{"by"}),
		planGaps: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "hotday_plan_gap_ratio", Buckets: gapBuckets,
			Help: "How far the cost of a plan may be above the least possible, as a share of it."}, []string{"by"}),
	}
	build := prometheus.NewGauge(prometheus.GaugeOpts{Name: "hotday_build_info", Help: "1; what was built is in the labels.",
		ConstLabels: prometheus.Labels{"version": b.Version, "commit": b.Commit, "go": b.Go, "sqlite": b.SQLite, "schema": b.Schema}})
	build.Set(1)
	m.registry.MustRegister(m.requests, m.latencies, m.streams, m.jobs, m.jobTimes, m.succeeded, m.planTimes, m.planGaps, build,
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Handler answers with the metrics in Prometheus's formats.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{Registry: m.registry})
}

// unmatched is the route of requests to addresses that do not exist.
const unmatched = "none"

// Request counts an answered request. Requests that no route matches share one series, whatever their method, so that a stranger cannot
// make series at will.
func (m *Metrics) Request(method, route string, status int, took time.Duration) {
	if route == "" {
		method, route = unmatched, unmatched
	}
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Inc()
	m.latencies.WithLabelValues(method, route).Observe(took.Seconds())
}

// StreamOpened counts an open live stream until closed is called.
func (m *Metrics) StreamOpened() (closed func()) {
	m.streams.Inc()
	return m.streams.Dec
}

// Planned records a computed plan. by is "request" or "job".
func (m *Metrics) Planned(by string, plan models.Plan, took time.Duration) {
	m.planTimes.WithLabelValues(by).Observe(took.Seconds())
	m.planGaps.WithLabelValues(by).Observe(plan.Cost.GapPct / 100)
}

// Job records an attempt of a job.
func (m *Metrics) Job(kind, outcome string, took time.Duration) {
	m.jobs.WithLabelValues(kind, outcome).Inc()
	m.jobTimes.WithLabelValues(kind).Observe(took.Seconds())
	if outcome == models.OutcomeDone {
		m.succeeded.WithLabelValues(kind).SetToCurrentTime()
	}
}
