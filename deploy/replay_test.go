package deploy_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models/store"
)

func TestReplayOfADocument(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	table, picture := filepath.Join(dir, "days.csv"), filepath.Join(dir, "season.svg")
	out, errs, code := hotday(t, "", "replay", "../testdata/seasons/kiosk.json", "--csv", table, "--svg", picture)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Example Kiosk, Monday 22 June 2026 to Sunday 5 July 2026")
	require.Contains(t, out, "Whole season, open days: 13")
	require.Contains(t, errs, "day 14 of 14")
	csv, err := os.ReadFile(table)
	require.NoError(t, err)
	require.Equal(t, 1+(3+7)*14, strings.Count(string(csv), "\n"), "plan, foresight and eight par sheets a day")
	svg, err := os.ReadFile(picture)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(string(svg), "<svg "))
}

func TestReplayOfAStoredSite(t *testing.T) {
	t.Parallel()
	story, err := demo.At(time.Now())
	require.NoError(t, err)
	db := filepath.Join(t.TempDir(), "demo.db")
	st, err := store.Open(context.Background(), db)
	require.NoError(t, err)
	require.NoError(t, story.Keep(context.Background(), st, func(string, ...any) {}))
	require.NoError(t, st.Close())
	curve := filepath.Join(t.TempDir(), "curve.svg")
	out, errs, code := hotday(t, "", "replay", "--site", story.Setup.Site.Code, "--db", db, "--days", "1", "--curve", curve)
	require.Zero(t, code, errs)
	require.Contains(t, out, "Whole season, open days: 1,")
	require.Regexp(t, `(?s)Coffee poured away against drinks missed.*plan at 80%.*plan, no choices.*par × 1\.2.*perfect foresight`, out)
	svg, err := os.ReadFile(curve)
	require.NoError(t, err)
	require.Contains(t, string(svg), "kg poured away")
}

func TestReplayErrors(t *testing.T) {
	t.Parallel()
	bad := filepath.Join(t.TempDir(), "bad.csv")
	require.NoError(t, os.WriteFile(bad, []byte("series,date,demand\na,2026-13-01,4\n"), 0o600))
	for _, c := range []struct {
		want string
		args []string
	}{
		{"name one season to replay", []string{"replay"}},
		{"needs its database", []string{"replay", "--site", "lido"}},
		{"cannot be read", []string{"replay", "--site", "lido", "--db", "/nowhere/at.db"}},
		{"/line 2/date", []string{"replay", bad}},
		{"cannot be read", []string{"replay", "/nowhere/season.json"}},
		{"is none of the season", []string{"replay", "demo", "--from", "2020-01-01"}},
	} {
		out, errs, code := hotday(t, "", c.args...)
		require.Equal(t, 2, code, c.args)
		require.Contains(t, errs, c.want)
		require.Empty(t, out)
	}
}
