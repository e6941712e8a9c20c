package planner

import (
	"context"
	"encoding/json"
	"os"
	"testing"

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

func TestWeekendIsPlannedWhole(t *testing.T) {
	t.Parallel()
	p, err := Compute(context.Background(), requestFrom(t, "weekend.json"))
	require.NoError(t, err)
	out, err := json.MarshalIndent(p, "", " ")
	require.NoError(t, err)
	if f := os.Getenv("PLAN_OUT"); f != "" {
		require.NoError(t, os.WriteFile(f, out, 0o600))
	}
}
