package planner

import (
	"context"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// reader is a test of the standard library or of rapid.
type reader interface {
	require.TestingT
	Helper()
}

func requestFrom(t reader, file string) models.PlanRequest {
	t.Helper()
	data, err := os.ReadFile("../testdata/requests/" + file)
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(data, &r))
	require.NoError(t, r.Validate())
	return r
}

func TestTheWeekendIsPlannedWhole(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	p, err := Compute(context.Background(), r)
	require.NoError(t, err)
	require.Empty(t, broken(&r, &p))
	assert.Len(t, p.Demand, 2*4*12)
	brewed := map[string]bool{}
	for _, b := range p.Batches {
		brewed[b.Beverage] = true
		assert.NotEmpty(t, b.Serves)
		require.Len(t, b.Otherwise, 3)
		for _, o := range b.Otherwise {
			assert.True(t, o.Not == "" || o.Cost == 0)
			assert.Greater(t, o.Cost, -0.02*p.Cost.Total, "%s %s: the plan leaves that lying", b.ID, o.Change)
		}
	}
	assert.Len(t, brewed, 4, "every beverage is brewed")
	assert.Less(t, p.Cost.GapPct, 15.0, "ice short on purpose, batches near their smallest, the bound knows no sizes in steps, and the plan is the best on simulated days, not on the path")
	assert.NotEmpty(t, p.Ice.Quotas)
	assert.NotEmpty(t, p.Pulls)
	assert.Len(t, p.Water, 8)
	assert.Contains(t, kinds(p), models.WarnIceShort, "the ice is tight on purpose")
	assert.Contains(t, p.Summary.Text, "The rest of Friday's sales isn't included.")
	assert.NotEmpty(t, p.Cautions)
	if f := os.Getenv("PLAN_OUT"); f != "" {
		out, err := json.MarshalIndent(p, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(f, out, 0o600))
	}
}
