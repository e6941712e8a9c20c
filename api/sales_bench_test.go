package api_test

import (
	"context"
	"database/sql"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models/store"
)

const benchRows = 1000

// BenchmarkSalesHTTP alternately posts 1,000 new counts over HTTP and inserts as many into a table of the same shape with a prepared
// statement in one transaction, both with WAL and synchronous=FULL. It reports the rows per second of both and their ratio.
func BenchmarkSalesHTTP(b *testing.B) {
	s := newBundle(b)
	s.setUp("quay")
	plain := newPlainTable(b)
	var overHTTP, inserted time.Duration
	var body []byte
	n := 0
	for b.Loop() {
		b.StopTimer()
		body = salesBody(body[:0], n)
		b.StartTimer()
		start := time.Now()
		a := s.raw(call{method: "POST", path: "/v1/sites/quay/sales-counts", body: body})
		overHTTP += time.Since(start)
		b.StopTimer()
		require.Equal(b, 200, a.status, "%s", a.body)
		start = time.Now()
		plain.insert(b, n)
		inserted += time.Since(start)
		n++
		b.StartTimer()
	}
	rows := float64(n) * benchRows
	b.ReportMetric(rows/overHTTP.Seconds(), "http-rows/s")
	b.ReportMetric(rows/inserted.Seconds(), "plain-rows/s")
	b.ReportMetric(100*inserted.Seconds()/overHTTP.Seconds(), "%-of-plain")
}

// benchCount is the i-th count of a post, which has 20 items in each of 50 windows of 15 minutes.
func benchCount(post, i int) (item int, start, end time.Time) {
	start = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(50*post+i/20) * 15 * time.Minute)
	return i % 20, start, start.Add(15 * time.Minute)
}

// salesBody appends a post to dst, without garbage that the measured code would have to collect.
func salesBody(dst []byte, post int) []byte {
	dst = append(dst, `{"source":"till-1","counts":[`...)
	for i := range benchRows {
		item, start, end := benchCount(post, i)
		if i > 0 {
			dst = append(dst, ',')
		}
		dst = append(dst, `{"item":"ITEM-`...)
		dst = strconv.AppendInt(dst, int64(item), 10)
		dst = append(dst, `","window_start":"`...)
		dst = start.AppendFormat(dst, time.RFC3339)
		dst = append(dst, `","window_end":"`...)
		dst = end.AppendFormat(dst, time.RFC3339)
		dst = append(dst, `","count":`...)
		dst = strconv.AppendInt(dst, int64(i%7), 10)
		dst = append(dst, '}')
	}
	return append(dst, "]}"...)
}

type plainTable struct {
	db     *sql.DB
	insert func(b *testing.B, post int)
}

func newPlainTable(b *testing.B) *plainTable {
	b.Helper()
	db, err := sql.Open(store.DriverName, "file:"+filepath.Join(b.TempDir(), "plain.db")+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, db.Close()) })
	db.SetMaxOpenConns(1)
	ctx := context.Background()
	_, err = db.ExecContext(ctx, `CREATE TABLE sales_counts (site_id INTEGER NOT NULL, window_start INTEGER NOT NULL, item_id INTEGER NOT NULL,
		window_end INTEGER NOT NULL, count REAL NOT NULL, received_at INTEGER NOT NULL,
		PRIMARY KEY (site_id, window_start, item_id, window_end)) STRICT, WITHOUT ROWID`)
	require.NoError(b, err)
	stmt, err := db.PrepareContext(ctx, "INSERT INTO sales_counts (site_id, window_start, item_id, window_end, count, received_at) VALUES (?, ?, ?, ?, ?, ?)")
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, stmt.Close()) })
	return &plainTable{db: db, insert: func(b *testing.B, post int) {
		tx, err := db.BeginTx(ctx, nil)
		require.NoError(b, err)
		in := tx.StmtContext(ctx, stmt)
		for i := range benchRows {
			item, start, end := benchCount(post, i)
			if _, err := in.ExecContext(ctx, 1, start.UnixMilli(), item, end.UnixMilli(), float64(i%7), start.UnixMilli()); err != nil {
				b.Fatal(err)
			}
		}
		require.NoError(b, tx.Commit())
	}}
}
