package batch

import (
	"bufio"
	"context"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const referenceDir = "../../testdata/batches"

type reference struct {
	name             string
	objective, bound float64
}

// references reads the table of the README beside the instances.
func references(tb testing.TB) []reference {
	tb.Helper()
	f, err := os.Open(filepath.Join(referenceDir, "README.md"))
	require.NoError(tb, err)
	defer f.Close()
	var out []reference
	for sc := bufio.NewScanner(f); sc.Scan(); {
		cells := strings.Split(sc.Text(), "|")
		if len(cells) < 5 {
			continue
		}
		obj, err := strconv.ParseFloat(strings.TrimSpace(cells[2]), 64)
		if err != nil {
			continue
		}
		bound, err := strconv.ParseFloat(strings.TrimSpace(cells[3]), 64)
		require.NoError(tb, err)
		out = append(out, reference{strings.TrimSpace(cells[1]), obj, bound})
	}
	require.Len(tb, out, 9)
	return out
}

func load(tb testing.TB, name string) *Instance {
	tb.Helper()
	data, err := os.ReadFile(filepath.Join(referenceDir, name+".json"))
	require.NoError(tb, err)
	in, err := Parse(data)
	require.NoError(tb, err)
	return in
}

func TestSolveTable(t *testing.T) {
	for _, ref := range references(t) {
		in := load(t, ref.name)
		begun := cpu()
		r, err := Solve(context.Background(), in, Options{Seed: 1})
		took := cpu() - begun
		require.NoError(t, err)
		require.NoError(t, Check(in, r))
		t.Logf("%-14s %9.4f bound %9.4f gap %6.2f%%  %6.0f ms  HiGHS %9.4f %9.4f  %+6.2f%% work %d", ref.name, r.Objective, r.LowerBound, r.GapPct,
			float64(took.Microseconds())/1000, ref.objective, ref.bound, 100*(r.Objective/ref.objective-1), r.Work)
	}
}
