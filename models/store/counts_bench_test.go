package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

// benchCount is sales_counts as a row model, which PutCounts and Counts do without: the benchmarks below say what it would cost.
type benchCount struct {
	SiteID      int64 `gorm:"primaryKey"`
	WindowStart int64 `gorm:"primaryKey"`
	ItemID      int64 `gorm:"primaryKey"`
	WindowEnd   int64 `gorm:"primaryKey"`
	Count       float64
	ReceivedAt  int64
}

func (benchCount) TableName() string { return "sales_counts" }

func countsAt(n int) (list []countRow) {
	for i := range 500 {
		start := int64(n*500+i) * 1000
		list = append(list, countRow{start: start, item: 1, end: start + 1000, count: float64(i % 7)})
	}
	return list
}

func benchShop(b *testing.B) *Store {
	s, err := Open(ctx, b.TempDir()+"/shop.db")
	require.NoError(b, err)
	b.Cleanup(func() { require.NoError(b, s.Close()) })
	_, _, err = s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(b, err)
	require.NoError(b, gorm.G[itemRow](s.write).Create(ctx, &itemRow{SiteID: 1, Source: "till", Item: "iced"}))
	b.ReportAllocs()
	return s
}

// BenchmarkWriteCounts stores 500 new counts.
func BenchmarkWriteCounts(b *testing.B) {
	for name, write := range map[string]func(*Store, []countRow) error{
		"SQL": func(t *Store, list []countRow) error {
			var res models.SalesResult
			for i := 0; i < len(list); i += chunkRows {
				if err := t.upsertCounts(ctx, 1, 1, list[i:i+chunkRows], &res); err != nil {
					return err
				}
			}
			return nil
		},
		"row models": func(t *Store, list []countRow) error {
			of := make([]benchCount, len(list))
			for i, c := range list {
				of[i] = benchCount{1, c.start, c.item, c.end, c.count, 1}
			}
			return gorm.G[benchCount](t.db, clause.OnConflict{DoNothing: true}).CreateInBatches(ctx, &of, chunkRows)
		},
	} {
		b.Run(name, func(b *testing.B) {
			s := benchShop(b)
			n := 0
			for b.Loop() {
				require.NoError(b, s.within(ctx, func(t *Store) error { return write(t, countsAt(n)) }))
				n++
			}
		})
	}
}

// BenchmarkReadCounts reads 5,000 counts.
func BenchmarkReadCounts(b *testing.B) {
	site, filter := siteRow{ID: 1}, models.SalesFilter{To: time.UnixMilli(5_000_000)}
	for name, read := range map[string]func(*Store) (int, error){
		"SQL": func(s *Store) (int, error) {
			out := models.Rows[models.SalesRow]{}
			query, args, err := countsQuery(site, filter, models.Page{Limit: 5000})
			if err == nil {
				err = s.scanCounts(ctx, query, args, 5000, mappingSpans{}, &out)
			}
			return len(out.Rows), err
		},
		"row models": func(s *Store) (int, error) {
			query, args, err := countsQuery(site, filter, models.Page{Limit: 5000})
			if err != nil {
				return 0, err
			}
			list, err := rows[struct {
				WindowStart, ItemID, WindowEnd, ReceivedAt int64
				Count                                      float64
				Source, Item                               string
			}](ctx, s, query, args...)
			out := make([]models.SalesRow, len(list))
			for i, r := range list {
				out[i].Source, out[i].Item, out[i].Count = r.Source, r.Item, r.Count
				out[i].WindowStart, out[i].WindowEnd, out[i].ReceivedAt = instant(r.WindowStart), instant(r.WindowEnd), instant(r.ReceivedAt)
			}
			return len(out), err
		},
	} {
		b.Run(name, func(b *testing.B) {
			s := benchShop(b)
			for n := range 10 {
				require.NoError(b, s.within(ctx, func(t *Store) error {
					var res models.SalesResult
					list := countsAt(n)
					return t.upsertCounts(ctx, 1, 1, list[:chunkRows], &res)
				}))
				require.NoError(b, s.within(ctx, func(t *Store) error {
					var res models.SalesResult
					return t.upsertCounts(ctx, 1, 1, countsAt(n)[chunkRows:], &res)
				}))
			}
			for b.Loop() {
				n, err := read(s)
				if err != nil || n < 5000 {
					b.Fatal(n, err)
				}
			}
		})
	}
}
