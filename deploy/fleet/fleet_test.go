package main

import (
	"bytes"
	"io"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

func TestOptionsAreChecked(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"-shops", "0"}, {"-shops", "20000"}, {"-days", "10"}, {"-night", "-1"}, {"-db", "fleet.db"}, {"-db", "postgres://localhost/x", "-dir", "x"}, {"-none"}} {
		_, err := parse(args, io.Discard)
		require.Error(t, err, args)
	}
	o, err := parse([]string{"-shops", "3"}, io.Discard)
	require.NoError(t, err)
	require.Equal(t, 3, o.night, "the night of all passes")
}

func TestTheSameSeedMakesTheSameShopsOnce(t *testing.T) {
	t.Parallel()
	counts := map[string]float64{}
	for range 2 {
		dir := t.TempDir()
		st, err := store.Open(t.Context(), filepath.Join(dir, "fleet.db"))
		require.NoError(t, err)
		f := newFleet(options{shops: 2, days: 60, seed: 7, dir: dir})
		var out bytes.Buffer
		require.NoError(t, f.make(t.Context(), st, &out))
		require.NoError(t, f.make(t.Context(), st, &out))
		require.Contains(t, out.String(), "0 of them made now", "a database is used again as it is")
		for _, x := range f.shops {
			sum, page := 0.0, models.Page{}
			for {
				rows, err := st.Counts(t.Context(), x.code, models.SalesFilter{}, page)
				require.NoError(t, err)
				for i := range rows.Rows {
					sum += rows.Rows[i].Count
				}
				if rows.Next == nil {
					break
				}
				page.Cursor = *rows.Next
			}
			if before, again := counts[x.code]; again {
				require.InDelta(t, before, sum, 0)
			}
			counts[x.code] = sum
		}
		today, err := dayOf(f.shops, firstNight)
		require.NoError(t, err)
		require.Len(t, today, 4, "each shop learns once and publishes once a day, whatever its zone")
		require.NoError(t, st.Close())
	}
	require.NotEqual(t, counts["shop-00001"], counts["shop-00002"])
}
