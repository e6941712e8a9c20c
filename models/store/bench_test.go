package store_test

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

const postRows = 1000

// postNo returns the n-th post of a till with 50 items, 20 windows of 15 minutes per post.
func postNo(n int) models.SalesPost {
	p := models.SalesPost{Source: "till", Counts: make([]models.SalesCount, 0, postRows)}
	for w := range postRows / 50 {
		from := t0.Add(time.Duration(n*postRows/50+w) * 15 * time.Minute)
		for item := range 50 {
			p.Counts = append(p.Counts, models.SalesCount{Item: fmt.Sprintf("ITEM %02d", item), WindowStart: from, WindowEnd: from.Add(15 * time.Minute), Count: float64(item % 7)})
		}
	}
	return p
}

func rate(b *testing.B) { b.ReportMetric(float64(b.N)*postRows/b.Elapsed().Seconds(), "rows/s") }

// BenchmarkPutCounts posts 1,000 new rows per iteration.
func BenchmarkPutCounts(b *testing.B) {
	s := withShop(b, openSQLite)
	n := 0
	for b.Loop() {
		p := postNo(n)
		n++
		res, err := s.PutCounts(ctx, shop, p, t0, "", "")
		if err != nil || res.New != postRows {
			b.Fatal(res, err)
		}
	}
	rate(b)
}

// BenchmarkPutCountsAgain posts the same 1,000 rows again.
func BenchmarkPutCountsAgain(b *testing.B) {
	s := withShop(b, openSQLite)
	p := postNo(0)
	putCounts(b, s, p)
	for b.Loop() {
		if res := putCounts(b, s, p); res.Unchanged != postRows {
			b.Fatal(res)
		}
	}
	rate(b)
}

// BenchmarkPlainInserts is the baseline for PutCounts: the minimum that stores the same data with the same durability, a prepared
// insert per row and a transaction per 1,000 rows, with items by number.
func BenchmarkPlainInserts(b *testing.B) {
	db, err := sql.Open(store.DriverName, "file:"+filepath.Join(b.TempDir(), "plain.db")+"?_journal_mode=WAL&_synchronous=FULL&_txlock=immediate")
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, db.Close()) })
	db.SetMaxOpenConns(1)
	_, err = db.Exec(`CREATE TABLE counts (site INTEGER, start INTEGER, item INTEGER, stop INTEGER, count REAL, received INTEGER,
		PRIMARY KEY (site, start, item, stop)) STRICT, WITHOUT ROWID`)
	require.NoError(b, err)
	insert, err := db.Prepare("INSERT INTO counts (site, start, item, stop, count, received) VALUES (?, ?, ?, ?, ?, ?)")
	require.NoError(b, err)
	defer insert.Close()
	n := 0
	for b.Loop() {
		p := postNo(n)
		n++
		tx, err := db.Begin()
		require.NoError(b, err)
		st := tx.Stmt(insert)
		for i, c := range p.Counts {
			if _, err := st.Exec(1, c.WindowStart.UnixMilli(), i%50, c.WindowEnd.UnixMilli(), c.Count, t0.UnixMilli()); err != nil {
				b.Fatal(err)
			}
		}
		require.NoError(b, tx.Commit())
	}
	rate(b)
}
