package forecast

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A forest that is read back is the one that was stored: its leaves are filled from the days' features.
func TestForestsAreReadAsTheyWere(t *testing.T) {
	t.Parallel()
	past, _ := shop(3, 400, 0, 3)
	for i := range past { // demand that isn't whole, and shops open on six days and on seven
		if past[i].Drink == "s01" && past[i].Demand != nil {
			*past[i].Demand /= 3
		}
	}
	st := fitState(t, past)
	body, err := st.MarshalBinary()
	require.NoError(t, err)
	var again State
	require.NoError(t, again.UnmarshalBinary(body))
	for i, pair := range st.learners.Forests {
		for k, want := range pair {
			require.NotEmpty(t, want.Trees)
			got := again.learners.Forests[i][k]
			require.Equal(t, want.Led, got.Led)
			require.Equal(t, want.Bins, got.Bins)
			require.Equal(t, want.Sorted, got.Sorted)
			require.Equal(t, want.Groups, got.Groups)
			require.Len(t, got.Trees, len(want.Trees))
			for j := range want.Trees {
				require.True(t, equalTrees(want.Trees[j], got.Trees[j]))
			}
		}
	}
	p, q := &packer{}, &packer{}
	p.packForests(st.learners.Forests)
	q.packForests(again.learners.Forests)
	require.True(t, bytes.Equal(p.out, q.out), "storing again loses nothing")
}

// leavesByWalk finds the days of each leaf by walking down the tree with each day.
func leavesByWalk(t tree, columns [][]uint8) [][]int {
	out := make([][]int, (len(t)+1)/2)
	q := make([]uint8, len(columns))
	for i := range columns[0] {
		for f := range q {
			q[f] = columns[f][i]
		}
		leaf := int(t.value(q))
		out[leaf] = append(out[leaf], i)
	}
	return out
}

func TestDaysAreSortedIntoTheirLeaves(t *testing.T) {
	t.Parallel()
	past, _ := shop(1, 300, 0, 5)
	fo := fitState(t, past).learners.Forests[0][1]
	rank := fo.rank()
	for k, tr := range fo.Trees {
		for leaf, days := range leavesByWalk(tr, fo.columns) {
			got := leafRanks(fo.Groups[k], (len(tr)+1)/2, leaf)
			require.Len(t, got, len(days))
			for j, day := range days {
				require.Equal(t, rank[day], got[j])
			}
		}
	}
}

// A state is read at each forecast and written each night: one of a busy site takes a few hundred kilobytes.
func TestAStateIsSmall(t *testing.T) {
	t.Parallel()
	past, _ := shop(20, 730, 0, 1)
	st := fitState(t, past)
	body, err := st.MarshalBinary()
	require.NoError(t, err)
	assert.Less(t, len(body), 230<<10, "20 series over two years")
}

func TestDamagedStatesAreRefused(t *testing.T) {
	t.Parallel()
	past, _ := shop(2, 200, 0, 3)
	st := fitState(t, past)
	body, err := st.MarshalBinary()
	require.NoError(t, err)
	for n := 0; n < len(body); n += 1 + len(body)/200 {
		require.Error(t, new(State).UnmarshalBinary(body[:n]), "cut after %d bytes", n)
	}
	for at := 0; at < len(body); at += 1 + len(body)/200 { // changed bytes may read as another state, but no more
		changed := append([]byte(nil), body...)
		changed[at] ^= 0x55
		var other State
		_ = other.UnmarshalBinary(changed)
	}
}

func TestPackedBacktestsAreNearlyThose(t *testing.T) {
	t.Parallel()
	past, _ := shop(2, 200, 0, 3)
	st := fitState(t, past)
	st.backtests[0].Y = 3.7
	p := &packer{}
	p.packBacktests(st.backtests)
	u := &unpacker{in: p.out}
	got := u.unpackBacktests()
	require.NoError(t, u.err)
	require.Len(t, got, len(st.backtests))
	for i, want := range st.backtests {
		require.InEpsilon(t, want.View.Regression, got[i].View.Regression, .00025)
		require.InEpsilon(t, want.View.Boosting, got[i].View.Boosting, .00025)
		for _, q := range [][2][]float32{{want.View.Forest, got[i].View.Forest}, {want.View.Led, got[i].View.Led}} {
			require.Len(t, q[1], len(q[0]))
			for k := range q[0] {
				require.InDelta(t, q[0][k], q[1][k], .002*max(1, float64(q[0][gridSize-1]))+1e-3)
			}
		}
		want.View, got[i].View = predictions{}, predictions{}
		require.Equal(t, want, got[i], "the rest is kept as it is")
	}
}
