package salesfile

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
)

// eachRow generates the largest file: 5,000 quarters of an hour with 40 items each.
func eachRow(write func(item string, from, to time.Time, count int)) {
	start := time.Date(2026, 1, 1, 7, 0, 0, 0, time.UTC)
	for i := range MaxRows {
		from := start.Add(time.Duration(i/40) * 15 * time.Minute)
		write(fmt.Sprint("ITEM-", i%40), from, from.Add(15*time.Minute), i%7)
	}
}

func BenchmarkCSV(b *testing.B) {
	var text bytes.Buffer
	text.WriteString("item;start;end;count\n")
	eachRow(func(item string, from, to time.Time, count int) {
		fmt.Fprintf(&text, "%s;%s;%s;%d\n", item, from.Format("2006-01-02 15:04"), to.Format("2006-01-02 15:04"), count)
	})
	benchmark(b, CSV, text.Bytes())
}

func BenchmarkXLSX(b *testing.B) {
	benchmark(b, XLSX, newWorkbook(b, func(f *excelize.File) {
		w, err := f.NewStreamWriter("Sheet1")
		require.NoError(b, err)
		require.NoError(b, w.SetRow("A1", []any{"item", "start", "end", "count"}))
		row := 1
		eachRow(func(item string, from, to time.Time, count int) {
			row++
			require.NoError(b, w.SetRow(fmt.Sprint("A", row), []any{item, from, to, count}))
		})
		require.NoError(b, w.Flush())
	}))
}

func benchmark(b *testing.B, read func([]byte, Options) (File, error), data []byte) {
	b.ReportAllocs()
	b.SetBytes(int64(len(data)))
	o := Options{Zone: zone(b, "Europe/Berlin")}
	for b.Loop() {
		f, err := read(data, o)
		require.NoError(b, err)
		require.Empty(b, f.Errors)
		require.Equal(b, MaxRows, f.RowCount)
	}
}
