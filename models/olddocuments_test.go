package models

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// beforeTaskFields is a sheet and a plan as the version before stored them: no lots, pulls, discards and caution codes.
type beforeTaskFields struct {
	Sheet PrepSheet `json:"sheet"`
	Plan  Plan      `json:"plan"`
}

func TestDocumentsOfTheVersionBeforeAreFilledIn(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile("../testdata/stored/before-task-fields.json")
	require.NoError(t, err)
	var old beforeTaskFields
	require.NoError(t, json.Unmarshal(doc, &old))
	old.Sheet.FillIn()
	old.Plan.FillIn()
	kinds := map[string]bool{}
	for _, task := range old.Sheet.Tasks {
		kinds[task.Kind] = true
		switch task.Kind {
		case TaskBrew, TaskChill, TaskStrain:
			require.Equal(t, task.Batch.Beverage, task.Beverage)
			require.NotEmpty(t, task.Batch.Lots)
			require.Equal(t, task.Batch.CoffeeLot, CoffeeLot(task.Batch.Lots))
			require.Equal(t, task.Kind == TaskBrew, task.Lots != nil)
		case TaskPull:
			require.Equal(t, []BeanPull{*task.Pull}, task.Pulls)
		case TaskDiscard:
			require.Nil(t, task.Discard, "only its text said how much")
			require.Equal(t, task.Batch != nil, task.Beverage != "")
		}
		require.Equal(t, task.Caution, task.CautionKey(), "without codes the text tells cautions apart")
	}
	require.Len(t, kinds, 9, "one of every kind")
	two := old.Plan.Batches[0]
	require.Equal(t, "H-0612+H-0626", two.CoffeeLot)
	require.Equal(t, []LotUse{{Lot: "H-0612"}, {Lot: "H-0626"}}, two.Lots, "how much of each is not known")
	one := old.Plan.Batches[1]
	require.Equal(t, []LotUse{{Lot: one.CoffeeLot, G: one.DoseG}}, one.Lots)
}

func TestDocumentsOfThisVersionStayAsTheyAre(t *testing.T) {
	t.Parallel()
	batch := BatchTask{Beverage: "flash", DoseG: 400, CoffeeLot: "h+12", Lots: []LotUse{{Lot: "h+12", G: 410}}}
	task := Task{Kind: TaskBrew, Beverage: "flash", Batch: &batch, Lots: batch.Lots, CautionCodes: []Caution{CautionScald}, Caution: "Hot."}
	task.FillIn()
	require.Equal(t, []LotUse{{Lot: "h+12", G: 410}}, task.Lots, "a code with a plus is one lot")
	require.NotEqual(t, task.Caution, task.CautionKey())
	plan := Plan{Batches: []BatchTask{{Lots: []LotUse{}, CoffeeLot: ""}}}
	plan.FillIn()
	require.Equal(t, []LotUse{}, plan.Batches[0].Lots)
}

// The request of a plan as the version before stored it, with its set-up, knows no people, baths, plumbing and containers.
func TestAStoredRequestHasTheDefaultsOfFieldsItDoesNotKnow(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile("../testdata/stored/before-days-work.json")
	require.NoError(t, err)
	var s PlanRequest
	require.NoError(t, DecodeStored(doc, &s))
	for _, m := range s.Ice.Makers {
		require.True(t, m.Plumbed, "as in a request that leaves it out")
	}
	require.InDelta(t, 1.5, s.Site.ServeMin, 0)
	require.Nil(t, s.Site.People, "nobody is counted until somebody says so")
	require.NoError(t, s.Validate())

	older := append([]byte(`{"gone":1,`), doc[1:]...)
	s = PlanRequest{}
	require.NoError(t, DecodeStored(older, &s), "a field that is gone")
	require.NotEmpty(t, s.Drinks)
}
