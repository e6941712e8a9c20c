package facts

import (
	"bytes"
	"compress/flate"
	"encoding/gob"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Before series had struct keys, a stored history named them too.
func TestAStoredHistoryOfAnEarlierVersionOpens(t *testing.T) {
	t.Parallel()
	old := struct {
		Digest [32]byte
		First  models.Date
		Days   int
		Series []string
		Part   []int
		Drink  []string
		Counts [][]float64
	}{[32]byte{7}, "2026-01-01", 2, []string{"noon iced"}, []int{0}, []string{"iced"}, [][]float64{{3, 4}}}
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	require.NoError(t, err)
	require.NoError(t, gob.NewEncoder(z).Encode(old))
	require.NoError(t, z.Close())
	p, ok := unpackPast(b.Bytes())
	require.True(t, ok)
	require.Equal(t, old.Digest, p.Digest)
	require.Equal(t, old.Drink, p.Drink)
	require.Equal(t, old.Counts, p.Counts)
}
