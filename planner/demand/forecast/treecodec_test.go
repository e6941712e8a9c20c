package forecast

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The trees of a forest survive their compact form, and damaged ones are refused.
func TestForestsAreStoredCompactly(t *testing.T) {
	t.Parallel()
	past, _ := shop(1, 400, 0, 3)
	st := fitState(t, past)
	for _, f := range st.learners.Forests[0] {
		for k, tr := range f.Trees {
			b, err := tr.GobEncode()
			require.NoError(t, err)
			require.Len(t, b, 2*len(tr)+1, "two bytes a node")
			var again tree
			require.NoError(t, again.GobDecode(b))
			require.True(t, equalTrees(tr, again))
			require.Error(t, again.GobDecode(b[:len(b)-2]))

			g, err := f.Groups[k].GobEncode()
			require.NoError(t, err)
			require.Less(t, len(g), len(f.Sorted)+6, "a byte a day")
			var groups ranks
			require.NoError(t, groups.GobDecode(g))
			leaves := (len(tr) + 1) / 2
			for leaf := range leaves { // in any order
				require.ElementsMatch(t, leafRanks(f.Groups[k], leaves, leaf), leafRanks(groups, leaves, leaf))
			}
			require.Error(t, groups.GobDecode(g[:3]))
		}
	}
	for _, b := range st.learners.Boosting.Trees { // have values of their own
		body, err := b.GobEncode()
		require.NoError(t, err)
		var again tree
		require.NoError(t, again.GobDecode(body))
		require.True(t, equalTrees(b, again))
	}
}
