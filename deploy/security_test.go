package deploy_test

import (
	"encoding/csv"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// requirement is a row of security.md, for one requirement of ASVS.
type requirement struct{ id, state, where string }

var (
	requirementID = regexp.MustCompile(`V\d+\.\d+\.\d+`)
	backquoted    = regexp.MustCompile("`([^`]+)`")
)

// asvs reads the numbers of the requirements, in the standard's order, and their levels.
func asvs(t *testing.T) (ids []string, level map[string]string) {
	t.Helper()
	file, err := os.Open("../testdata/checks/asvs-5.0.0.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	level = map[string]string{}
	for _, r := range rows[1:] {
		ids, level[r[0]] = append(ids, r[0]), r[1]
	}
	return ids, level
}

// reviewed reads the rows of security.md. A row may be for a range, "V17.1.1 – V17.3.2", which is in the standard's order.
func reviewed(t *testing.T, page string, ids []string) (out []requirement) {
	t.Helper()
	for line := range strings.Lines(page) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		found := requirementID.FindAllString(cells[0], -1)
		if !strings.HasPrefix(line, "| V") || len(found) == 0 {
			continue
		}
		require.Len(t, cells, 4, line)
		if strings.Contains(cells[0], "–") {
			require.Len(t, found, 2, line)
			from, to := slices.Index(ids, found[0]), slices.Index(ids, found[1])
			require.True(t, from >= 0 && from < to, "not a range of levels 1 and 2: %s", line)
			found = ids[from : to+1]
		}
		require.NotEmpty(t, strings.TrimSpace(cells[3]), "how, or what is missing: %s", line)
		for _, id := range found {
			out = append(out, requirement{id, strings.TrimSpace(cells[2]), cells[3]})
		}
	}
	return out
}

func TestSecurityPageHasEveryRequirementOnceWithItsState(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile("security.md")
	require.NoError(t, err)
	page := string(doc)
	ids, level := asvs(t)
	require.Len(t, ids, 253)
	counts, seen := map[string]int{}, []string{}
	for _, r := range reviewed(t, page, ids) {
		require.Contains(t, level, r.id, "not a requirement of level 1 or 2")
		require.Contains(t, []string{"met", "not applicable", "open"}, r.state, r.id)
		seen = append(seen, r.id)
		counts[r.state+level[r.id]]++
	}
	require.Equal(t, ids, seen, "each once, in the standard's order")
	for _, state := range []string{"met", "not applicable", "open"} {
		one, two := counts[state+"1"], counts[state+"2"]
		require.Regexp(t, regexp.MustCompile(`(?m)^\| `+state+` \| `+strconv.Itoa(one)+` \| `+strconv.Itoa(two)+` \| `+strconv.Itoa(one+two)+` \|$`), page, "the counts at the top")
	}
}

// Whatever the page refers to exists: files, tests and flags.
func TestSecurityPageNamesFilesTestsAndFlagsThatExist(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile("security.md")
	require.NoError(t, err)
	tests := map[string]bool{}
	declared := regexp.MustCompile(`(?m)^func (Test\w+)\(`)
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		code, err := os.ReadFile(path)
		for _, m := range declared.FindAllStringSubmatch(string(code), -1) {
			tests[m[1]] = true
		}
		return err
	}))
	help, _, code := hotday(t, "", "serve", "--help")
	require.Zero(t, code)
	named := map[string]int{}
	for _, m := range backquoted.FindAllStringSubmatch(string(doc), -1) {
		switch word := strings.Fields(m[1])[0]; {
		case strings.HasPrefix(word, "Test"):
			require.True(t, tests[word], "there is no test %s", word)
			named["tests"]++
		case strings.HasPrefix(word, "--"):
			require.Contains(t, help, word)
			named["flags"]++
		case regexp.MustCompile(`^[\w.][\w./-]*\.(go|md|js|html|yaml|json|sh|csv|bin|service|conf|mod|sum|txt|env)$|^[\w.][\w./-]*/$|^\w+(/\w+)+$`).MatchString(word):
			_, err := os.Stat(filepath.Join("..", word))
			require.NoError(t, err, "a path from the top of the repository")
			named["files"]++
		}
	}
	for what, n := range named {
		require.Greater(t, n, 5, what)
	}
	require.Len(t, named, 3)
}
