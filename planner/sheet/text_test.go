package sheet_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"hotday/models"

	"hotday/planner"
	"hotday/planner/sheet"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// textFolder holds a request with its plan, and their texts.
var textFolder = filepath.Join("..", "..", "testdata", "text")

// golden compares text with a file that a person reads.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join(textFolder, name)
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err, "go test ./planner/sheet -run %s -update writes it", t.Name())
	require.Equal(t, string(want), got, "look at the difference; where it is wanted, run with -update")
}

// stated is a plan with one of everything. It is kept, so that the text does not change with the planner; it was stored before batches
// had lots and cautions had codes.
func stated(t *testing.T) (models.PlanRequest, models.Plan) {
	t.Helper()
	var r models.PlanRequest
	doc, err := os.ReadFile(filepath.Join(textFolder, "request.json"))
	require.NoError(t, err)
	require.NoError(t, models.DecodeStrict(doc, &r))
	var p models.Plan
	doc, err = os.ReadFile(filepath.Join(textFolder, "plan.json"))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(doc, &p))
	p.FillIn()
	return r, p
}

func TestAPlanAsTextReadsWell(t *testing.T) {
	t.Parallel()
	r, p := stated(t)
	var out bytes.Buffer
	require.NoError(t, sheet.WriteText(&out, r, p))
	golden(t, "plan.txt", out.String())
	for line := range strings.Lines(out.String()) {
		require.LessOrEqual(t, utf8.RuneCountInString(line), 170, line)
		require.Equal(t, strings.TrimRight(line, " \n"), strings.TrimRight(line, "\n"), "no space at the end of a line")
	}
	require.NotContains(t, out.String(), "\x1b")
	require.NotContains(t, out.String(), "NaN")
}

func TestAPrepSheetAsTextReadsWell(t *testing.T) {
	t.Parallel()
	r, p := stated(t)
	var out bytes.Buffer
	for _, s := range sheet.PrepSheets(r, p, nil, r.Now) {
		require.NoError(t, sheet.WriteSheetText(&out, r.Site, s))
	}
	golden(t, "sheets.txt", out.String())
	said := strings.Join(strings.Fields(out.String()), " ")
	require.Equal(t, 4, strings.Count(said, "Hot liquid on ice can shatter glass: use"), "written out on each of two sheets where it is needed first, and in its list")
	require.Contains(t, said, "Take care: 2, 3, 4, 5.")
}

func TestAnEmptyPlanSaysSo(t *testing.T) {
	t.Parallel()
	r, _ := stated(t)
	var out bytes.Buffer
	require.NoError(t, sheet.WriteText(&out, r, models.Plan{From: r.From, Days: 1}))
	require.Contains(t, out.String(), "NO WARNINGS")
}

func TestMoneyFollowsTheCurrencysDigits(t *testing.T) {
	t.Parallel()
	r, p := stated(t)
	r.Site.Currency = "JPY"
	p.Expected = models.Expected{Demanded: 100, Sold: 100, Cost: models.ExpectedCost{Total: 12345}}
	var out bytes.Buffer
	require.NoError(t, sheet.WriteText(&out, r, p))
	require.Contains(t, out.String(), "12 345 JPY in all")
}

// A plan of the rest of a day has no ice levels before it begins.
func TestAPlanThatBeginsDuringTheDayIsWrittenAsText(t *testing.T) {
	t.Parallel()
	var r models.PlanRequest
	doc, err := os.ReadFile("../../testdata/requests/one-day.json")
	require.NoError(t, err)
	require.NoError(t, models.DecodeStrict(doc, &r))
	r.Now = r.From.At(14*60, r.Site.Location())
	r.Stock = nil
	p, err := planner.ComputeWith(t.Context(), r, planner.Options{WithoutFixes: true, Budget: 2000, Days: 20})
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, sheet.WriteText(&out, r, p))
	require.NotEmpty(t, out.String())
}
