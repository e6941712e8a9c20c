package sheet_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/sheet"
)

// inEnglish are English words that a German text of a kitchen cannot hold; decimal points and dates in another order likewise.
var inEnglish = regexp.MustCompile(`(?i)\b(the|and|with|of|for|from|until|into|about|coffee|water|ice|bath|drinks?|beans|fill|stir|strain|left|made|keep|buy|use by|day|` +
	`Monday|Tuesday|Wednesday|Thursday|Friday|Saturday|Sunday|July|June|not|is|are|you|your|if|by|out)\b|\d\.\d+\x{202f}|\d%`)

// German sheets of a stated plan, which a person reads.
func TestAPrepSheetInGermanReadsWell(t *testing.T) {
	t.Parallel()
	r, p := stated(t)
	r.Site.Language = "de"
	var out bytes.Buffer
	for _, s := range sheet.PrepSheets(r, p, nil, r.Now) {
		require.NoError(t, sheet.WriteSheetText(&out, r.Site, s))
	}
	golden(t, "sheets-de.txt", out.String())
}

// A weekend that is planned in German says nothing in English: neither on the sheets nor in the plan's words, warnings and fixes.
func TestAWeekendInGermanHasNoEnglish(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile(filepath.Join("..", "..", "testdata", "requests", "weekend.json"))
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(doc, &r))
	r.Site.Language = "de"
	// An ice bin so small that ice runs out, a hold time that is too long and beans too young: warnings with fixes.
	r.Ice.BinG, r.Beverages[0].HoldH, r.Coffees[0].RestDaysMin = 9000, 40, 30
	var own []string // the names of the shop are its own
	for _, b := range r.Beverages {
		own = append(own, regexp.QuoteMeta(b.Code), regexp.QuoteMeta(b.Name))
	}
	for _, d := range r.Drinks {
		own = append(own, regexp.QuoteMeta(d.Code), regexp.QuoteMeta(d.Name))
	}
	for _, p := range r.Site.DayParts {
		own = append(own, regexp.QuoteMeta(p.Code))
	}
	names := regexp.MustCompile(joined(own))
	p, err := planner.ComputeWith(t.Context(), r, planner.Options{Budget: 4000, Days: 100})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, sheet.WriteText(&out, r, p))
	for _, s := range sheet.PrepSheets(r, p, nil, r.Now) {
		require.NoError(t, sheet.WriteSheetText(&out, r.Site, s))
	}
	b, err := json.Marshal(p.Warnings)
	require.NoError(t, err)
	require.Contains(t, string(b), "fehlen", "warnings are in German too")
	for _, line := range bytes.Split(out.Bytes(), []byte("\n")) {
		said := names.ReplaceAllString(string(line), "…")
		assert.NotRegexp(t, inEnglish, said)
	}
}

func joined(patterns []string) string {
	out := "a^"
	for _, p := range patterns {
		if p != "" {
			out += "|" + p
		}
	}
	return out
}
