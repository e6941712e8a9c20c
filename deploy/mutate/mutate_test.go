package main

import (
	"bytes"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

const invented = `package invented

var most = 9

// Larger has a branch that no test takes and a boundary that no test meets.
func Larger(a, b int) int {
	if a < b {
		a = b
	}
	if a > most {
		return most - 1
	}
	return a
}
`

const inventedTest = `package invented

import "testing"

func TestLarger(t *testing.T) {
	if Larger(1, 2) != 2 || Larger(3, 2) != 3 {
		t.Fatal("the larger of two")
	}
}
`

func TestEveryKindOfChangeIsMade(t *testing.T) {
	t.Parallel()
	src := []byte(`package p
func f(a, b float64, ok bool, list []string) (x float64) {
	for i := 0; i <= 3 && !ok; i++ {
		x += a*b - 1.5
		if ok { continue }
		print("a" + list[0])
	}
	defer f(-a, b, true, nil)
	return x
}
`)
	mutants, err := mutantsOf("p.go", src)
	require.NoError(t, err)
	var got []string
	for _, m := range mutants {
		got = append(got, m.what)
		require.NotEqual(t, string(src), string(m.apply(src)), m.what)
	}
	require.ElementsMatch(t, []string{
		"0 → 1", "<= → <", "<= → >", "3 → 4", "&& → ||", "! removed", "++ → --", "+= → -=", "removed: x += a*b - 1.5", "* → /", "- → +", "1.5 → 2.25",
		"ok turned round", "removed: continue", `removed: print("a" + list[0])`, "0 → 1", "removed: defer f(-a, b, true, nil)", "- removed", "true → false",
	}, got)
}

func TestSurvivorsAreShownAndNothingIsLeftBehind(t *testing.T) { // not parallel: it works in a folder of its own
	if testing.Short() {
		t.Skip("builds and runs tests a dozen times")
	}
	dir := t.TempDir()
	t.Chdir(dir)
	files := map[string]string{"go.mod": "module invented\n\ngo 1.26\n", "larger.go": invented, "larger_test.go": inventedTest}
	for name, text := range files {
		require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	}
	o, err := parse([]string{".", "-seed", "3", "-timeout", "1m"}, os.Stderr)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, mutate(t.Context(), o, &out))
	require.Equal(t, `larger.go:3:12: 9 → 10
larger.go:7:7: < → <=
larger.go:10:7: > → >=
larger.go:11:15: - → + (no test goes there)
larger.go:11:17: 1 → 2 (no test goes there)
8 mutants: 3 killed (0 by running out of time), 5 survived (2 of them where no test goes); 0 more do not compile. Score 37.5 % (of 8 possible, seed 3)
`, out.String())
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, len(files))
	for name, text := range files {
		have, err := os.ReadFile(name)
		require.NoError(t, err)
		require.Equal(t, text, string(have))
	}

	o.sample = 2
	var again, other bytes.Buffer
	require.NoError(t, mutate(t.Context(), o, &again))
	require.NoError(t, mutate(t.Context(), o, &other))
	require.Equal(t, again.String(), other.String(), "a seed draws the same mutants")
	require.Contains(t, again.String(), "2 mutants")
}

func TestFailingTestsAreNotMutated(t *testing.T) { // not parallel: it works in a folder of its own
	if testing.Short() {
		t.Skip("builds and runs tests a dozen times")
	}
	t.Chdir(t.TempDir())
	for name, text := range map[string]string{"go.mod": "module invented\n\ngo 1.26\n", "larger.go": invented, "larger_test.go": inventedTest + "\nfunc TestNo(t *testing.T) { t.Fatal(`no`) }\n"} {
		require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	}
	err := mutate(t.Context(), options{packages: []string{"."}}, &bytes.Buffer{})
	require.ErrorContains(t, err, "fail without any change")
}
