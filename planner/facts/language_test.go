package facts_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/facts"
	"hotday/planner/say/words"
	"hotday/planner/sheet"
)

// texts are the JSON fields with text for people, and the two that depend on the language alone.
var texts = []string{"text", "say", "why", "cause", "caution", "cautions", "action", "basis", "serves", "not", "notes", "changes", "language", "digest"}

// withoutTexts is a value as JSON, with each list of texts replaced by its length.
func withoutTexts(t *testing.T, v any) string {
	t.Helper()
	doc, err := json.Marshal(v)
	require.NoError(t, err)
	var tree any
	require.NoError(t, json.Unmarshal(doc, &tree))
	doc, err = json.MarshalIndent(blank(tree), "", " ")
	require.NoError(t, err)
	return string(doc)
}

func blank(v any) any {
	switch v := v.(type) {
	case map[string]any:
		for key, x := range v {
			list, isList := x.([]any)
			switch {
			case !slices.Contains(texts, key):
				v[key] = blank(x)
			case isList:
				v[key] = len(list)
			default:
				v[key] = x != ""
			}
		}
	case []any:
		for i := range v {
			v[i] = blank(v[i])
		}
	}
	return v
}

// aDay is what clients see of a Saturday: the plan and its sheet, marks on the sheet, the request of a replan at noon, its plan,
// sheet and changes, and the review on Sunday.
type aDay struct {
	Plan, Replan    models.Plan
	Sheets, Resheet []models.PrepSheet
	Changes         []models.Change
	Request         models.PlanRequest
	Review          models.Review
}

func dayIn(t *testing.T, language string) (d aDay) {
	t.Helper()
	var r models.PlanRequest
	doc, err := os.ReadFile(filepath.Join("..", "..", "testdata", "requests", "weekend.json"))
	require.NoError(t, err)
	require.NoError(t, models.DecodeStrict(doc, &r))
	r.Site.Language, r.Days = language, 1
	r.Demand = slices.DeleteFunc(r.Demand, func(x models.Demand) bool { return x.Date != r.From })
	// A bin so small that ice runs out, a hold that is too long and beans too young: warnings with fixes.
	r.Ice.BinG, r.Beverages[0].HoldH, r.Coffees[0].RestDaysMin = 9000, 40, 30
	require.NoError(t, r.Validate())
	site, from := r.Site.Code, r.From
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	_, _, err = s.PutSetup(ctx, r.Setup, "", r.Now)
	require.NoError(t, err)
	var expected []models.ExpectedDemand
	for _, x := range r.Demand {
		expected = append(expected, models.ExpectedDemand{Date: x.Date, DayPart: x.DayPart, Drink: x.Drink, Expected: &x.Expected, P10: x.P10, P90: x.P90})
	}
	require.NoError(t, s.PutExpectedDemand(ctx, site, expected, r.Now))
	require.NoError(t, s.PutMappings(ctx, site, []models.ItemMapping{{Source: "till", Item: "one", Drink: new(r.Drinks[0].Code), Factor: 1}}))

	publish := func(p models.Plan, request models.PlanRequest, at time.Time, previous ...models.PrepSheet) (models.Plan, []models.PrepSheet) {
		p, added, err := s.AddPlan(ctx, site, p, request, at)
		require.NoError(t, err)
		require.True(t, added)
		sheets := sheet.PrepSheets(request, p, previous, at)
		require.NoError(t, s.PutSheets(ctx, site, sheets))
		return p, sheets
	}
	quick := planner.Options{Budget: 4000, Days: 100}
	p, err := planner.ComputeWith(ctx, r, quick)
	require.NoError(t, err)
	d.Plan, d.Sheets = publish(p, r, r.Now)

	noon := from.At(12*60, r.Site.Location())
	for i, task := range d.Sheets[0].Tasks {
		if task.At.After(noon) && task.Kind != models.TaskDiscard {
			continue
		}
		state := models.Made
		if i%7 == 3 && task.Kind != models.TaskDiscard {
			state = models.Skipped
		}
		mark := models.TaskMark{Task: task.ID, State: state, At: task.At.Add(5 * time.Minute), Key: task.ID}
		if task.Kind == models.TaskDiscard {
			mark.BeverageG = new(500.0)
		}
		_, err := s.AddMark(ctx, site, mark, noon)
		require.NoError(t, err)
	}
	_, err = s.PutCounts(ctx, site, models.SalesPost{Source: "till", Counts: []models.SalesCount{
		{Item: "one", WindowStart: noon.Add(-time.Hour), WindowEnd: noon, Count: 25}}}, noon, "", "")
	require.NoError(t, err)

	d.Request, err = facts.Gather(ctx, s, facts.GatherQuery{Site: site, From: from, Days: 1, Now: noon})
	require.NoError(t, err)
	quick.Before = d.Plan.Batches
	p, err = planner.ComputeWith(ctx, d.Request, quick)
	require.NoError(t, err)
	before, err := s.Sheets(ctx, site, from, from.AddDays(1))
	require.NoError(t, err)
	d.Replan, d.Resheet = publish(p, d.Request, noon, before...)
	d.Changes = sheet.Changes(d.Plan, d.Replan, r.Setup)
	d.Review, err = facts.Review(ctx, s, site, from, 1, from.AddDays(1).At(10*60, r.Site.Location()))
	require.NoError(t, err)
	return d
}

func TestLanguageChangesOnlyTexts(t *testing.T) {
	t.Parallel()
	english, keys := dayIn(t, words.English), dayIn(t, words.Keys)
	require.Equal(t, withoutTexts(t, english), withoutTexts(t, keys))

	// The day includes everything that was once parsed from a text.
	require.NotEmpty(t, english.Plan.Warnings)
	require.NotEmpty(t, english.Changes)
	require.NotEmpty(t, english.Resheet[0].Changes)
	require.NotContains(t, keys.Plan.Summary.Text, " ", "the second run really has no English")
	kinds := map[string]int{}
	for _, task := range english.Resheet[0].Tasks {
		kinds[task.Kind]++
	}
	for _, kind := range []string{models.TaskBrew, models.TaskChill, models.TaskDiscard, models.TaskPull, models.TaskWaterDraw, models.TaskIceCheck, models.TaskIceFill} {
		require.NotZero(t, kinds[kind], kind)
	}
	poured := 0
	for _, b := range english.Review.Beverages {
		if b.PouredG != nil && *b.PouredG > 0 {
			poured++
		}
	}
	require.NotZero(t, poured, "a discard mark counts for its beverage")
}
