package batch

import (
	"bufio"
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

// references reads the table in the README of the nine instances.
func references(tb testing.TB) []reference {
	tb.Helper()
	out := referencesIn(tb, referenceDir)
	require.Len(tb, out, 9)
	return out
}

// drawn are further instances, in a subfolder, with the results of HiGHS.
func drawn(tb testing.TB) []reference {
	tb.Helper()
	out := referencesIn(tb, filepath.Join(referenceDir, "drawn"))
	require.Len(tb, out, 19)
	for k := range out {
		out[k].name = "drawn/" + out[k].name
	}
	return out
}

func referencesIn(tb testing.TB, dir string) []reference {
	tb.Helper()
	f, err := os.Open(filepath.Join(dir, "README.md"))
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
