package telemetry

import (
	"context"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"hotday/models"
)

// Database is where the metrics of the database are read from. *store.Store implements it.
type Database interface {
	models.Store
	QueueState(ctx context.Context) (models.QueueState, error)
	FileSizes() (database, log int64, err error)
}

// readWithin bounds the reading of the database for one look at the metrics.
const readWithin = 5 * time.Second

// database reads the metrics of the database whenever somebody looks at them.
type database struct {
	db   Database
	fail func(error)

	up, size, sites, waiting, age, held, failed, coverage, off, lastCount *prometheus.Desc
}

// WatchDatabase adds the metrics that are read from the database. fail is called with the errors of reading; hotday_database_up is then 0
// and the metrics that could not be read are absent.
func (m *Metrics) WatchDatabase(db Database, fail func(error)) {
	desc := func(name, help string, labels ...string) *prometheus.Desc {
		return prometheus.NewDesc(name, help, labels, nil)
	}
	m.registry.MustRegister(&database{db: db, fail: fail,
		up:        desc("hotday_database_up", "1 if the database could be read for these metrics, else 0."),
		size:      desc("hotday_database_bytes", "Size of the database's files: data, and log (the write-ahead log).", "file"),
		sites:     desc("hotday_sites", "Sites that are set up."),
		waiting:   desc("hotday_queue_jobs", "Jobs in the queue by state: due, later (scheduled or to be tried again) and running.", "state"),
		age:       desc("hotday_queue_oldest_due_seconds", "How long the job that has been due longest has waited, without the night's learning and tidying; 0 if none is due."),
		held:      desc("hotday_queue_longest_running_seconds", "How long the job that has been running longest has run; 0 if none runs."),
		failed:    desc("hotday_queue_given_up", "Jobs given up after all their attempts and still kept (--keep jobs)."),
		coverage:  desc("hotday_forecast_coverage_ratio", "Share of counts inside the forecast's 10 to 90% range, over the kept track record; 0.8 if it is calibrated.", "site"),
		off:       desc("hotday_forecast_error_ratio", "Weighted absolute percentage error of the forecast's medians, over the kept track record.", "site"),
		lastCount: desc("hotday_site_last_count_timestamp_seconds", "When sales counts of the site last arrived.", "site"),
	})
}

// Describe implements prometheus.Collector.
func (d *database) Describe(out chan<- *prometheus.Desc) {
	for _, desc := range []*prometheus.Desc{d.up, d.size, d.sites, d.waiting, d.age, d.held, d.failed, d.coverage, d.off, d.lastCount} {
		out <- desc
	}
}

// Collect implements prometheus.Collector.
func (d *database) Collect(out chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), readWithin)
	defer cancel()
	up := 1.0
	if err := d.read(ctx, func(desc *prometheus.Desc, v float64, labels ...string) {
		out <- prometheus.MustNewConstMetric(desc, prometheus.GaugeValue, v, labels...)
	}); err != nil {
		up = 0
		d.fail(err)
	}
	out <- prometheus.MustNewConstMetric(d.up, prometheus.GaugeValue, up)
}

func (d *database) read(ctx context.Context, gauge func(*prometheus.Desc, float64, ...string)) error {
	data, log, err := d.db.FileSizes()
	if err != nil {
		return err
	}
	gauge(d.size, float64(data), "data")
	gauge(d.size, float64(log), "log")
	q, err := d.db.QueueState(ctx)
	if err != nil {
		return err
	}
	gauge(d.waiting, float64(q.Due), "due")
	gauge(d.waiting, float64(q.Later), "later")
	gauge(d.waiting, float64(q.Running), "running")
	gauge(d.age, q.OldestDue.Seconds())
	gauge(d.held, q.LongestRunning.Seconds())
	gauge(d.failed, float64(q.GivenUp))
	sites, err := d.db.Sites(ctx)
	if err != nil {
		return err
	}
	gauge(d.sites, float64(len(sites)))
	for _, site := range sites {
		if err := d.readSite(ctx, site, gauge); err != nil {
			return err
		}
	}
	return nil
}

func (d *database) readSite(ctx context.Context, site string, gauge func(*prometheus.Desc, float64, ...string)) error {
	last, err := d.db.CountsReceivedAt(ctx, site)
	if err != nil {
		return err
	}
	if !last.IsZero() {
		gauge(d.lastCount, float64(last.UnixMilli())/1000, site)
	}
	record, found, err := d.db.TrackRecord(ctx, site)
	if err != nil || !found {
		return err
	}
	if f := record.All.Forecast; f.InsidePct != nil {
		gauge(d.coverage, *f.InsidePct/100, site)
	}
	if f := record.All.Forecast; f.OffPct != nil {
		gauge(d.off, *f.OffPct/100, site)
	}
	return nil
}
