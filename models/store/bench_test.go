package store_test

import (
	"database/sql"
	"fmt"
	"os"
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

// Benchmark500Counts posts the last minutes of a till, 500 rows, with an idempotency key.
func Benchmark500Counts(b *testing.B) {
	s := withShop(b, openSQLite)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		p := postNo(n)
		p.Counts = p.Counts[:500]
		n++
		if res, err := s.PutCounts(ctx, shop, p, t0, fmt.Sprint(n), "hash"); err != nil || res.New != 500 {
			b.Fatal(res, err)
		}
	}
}

// dayOfTasks publishes a sheet of 40 tasks.
func dayOfTasks(b *testing.B, s *store.Store) models.PrepSheet {
	var ids []string
	for i := range 40 {
		ids = append(ids, fmt.Sprintf("task %02d", i))
	}
	sheet := sheetOf(1, "2026-07-11", ids...)
	require.NoError(b, s.PutSheets(ctx, shop, []models.PrepSheet{sheet}))
	return sheet
}

// BenchmarkMark ticks a task.
func BenchmarkMark(b *testing.B) {
	s := withShop(b, openSQLite)
	tasks := dayOfTasks(b, s).Tasks
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		n++
		m := models.TaskMark{Task: tasks[n%len(tasks)].ID, Key: fmt.Sprint(n), State: models.Started, At: t0}
		if added, err := s.AddMark(ctx, shop, m, t0); err != nil || !added {
			b.Fatal(added, err)
		}
	}
}

// BenchmarkReadSheet reads a sheet of 40 tasks, each with two marks.
func BenchmarkReadSheet(b *testing.B) {
	s := withShop(b, openSQLite)
	for _, task := range dayOfTasks(b, s).Tasks {
		for _, state := range []string{models.Started, models.Made} {
			_, err := s.AddMark(ctx, shop, models.TaskMark{Task: task.ID, Key: state, State: state, At: t0}, t0)
			require.NoError(b, err)
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		if sheet, err := s.Sheet(ctx, shop, "2026-07-11"); err != nil || len(sheet.Tasks) != 40 {
			b.Fatal(err)
		}
	}
}

// BenchmarkAddPlan stores a plan with the request of a whole weekend.
func BenchmarkAddPlan(b *testing.B) {
	s := withShop(b, openSQLite)
	p, r := planOf("")
	doc, err := os.ReadFile("../../testdata/requests/weekend.json")
	require.NoError(b, err)
	require.NoError(b, models.DecodeStrict(doc, &r))
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		n++
		p.Digest = fmt.Sprint(n)
		if _, added, err := s.AddPlan(ctx, shop, p, r, t0); err != nil || !added {
			b.Fatal(added, err)
		}
	}
}

// BenchmarkToken finds a key by its secret, which every request does.
func BenchmarkToken(b *testing.B) {
	s := withShop(b, openSQLite)
	_, secret, err := s.AddToken(ctx, models.Token{Name: "till", Scopes: []string{models.ScopeRead}}, t0)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.TokenBySecret(ctx, secret, t0); err != nil {
			b.Fatal(err)
		}
	}
}

// hoursOf are the hours of a forecast of ten days.
func hoursOf(issue time.Time) models.WeatherPost {
	w := models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: issue}
	for h := range 240 {
		w.Hours = append(w.Hours, models.WeatherHour{At: t0.Add(time.Duration(h) * time.Hour), TempC: 30, HumidityPct: new(40.0)})
	}
	return w
}

// BenchmarkPutWeather stores a forecast of 240 hours.
func BenchmarkPutWeather(b *testing.B) {
	s := withShop(b, openSQLite)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		n++
		require.NoError(b, s.PutWeather(ctx, shop, hoursOf(t0.Add(time.Duration(n)*time.Second))))
	}
}

// BenchmarkWeather reads ten days of which 20 forecasts are kept.
func BenchmarkWeather(b *testing.B) {
	s := withShop(b, openSQLite)
	for n := range 20 {
		require.NoError(b, s.PutWeather(ctx, shop, hoursOf(t0.Add(time.Duration(n)*time.Hour))))
	}
	b.ReportAllocs()
	for b.Loop() {
		list, err := s.Weather(ctx, shop, t0, t0.AddDate(0, 0, 10), time.Time{})
		if err != nil || len(list) != 240 {
			b.Fatal(len(list), err)
		}
	}
}

// BenchmarkCounts reads a month of counts, 20,000 rows, as a forecast does.
func BenchmarkCounts(b *testing.B) {
	s := withShop(b, openSQLite)
	for n := range 20 {
		putCounts(b, s, postNo(n))
	}
	b.ReportAllocs()
	for b.Loop() {
		rows, cursor := 0, ""
		for {
			page, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{Limit: models.MaxLimit, Cursor: cursor})
			require.NoError(b, err)
			if rows += len(page.Rows); page.Next == nil {
				break
			}
			cursor = *page.Next
		}
		if rows != 20*postRows {
			b.Fatal(rows)
		}
	}
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
