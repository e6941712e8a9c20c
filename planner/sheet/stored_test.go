package sheet_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"

	"hotday/planner"
	"hotday/planner/sheet"
)

// A shop's documents of the version before are planned and printed by this one.
func TestARequestStoredByTheVersionBeforeIsPlannedAndPrinted(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile(filepath.Join("..", "..", "testdata", "stored", "before-days-work.json"))
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStored(doc, &r))
	require.NoError(t, r.Validate())
	p, err := planner.ComputeWith(t.Context(), r, planner.Options{WithoutFixes: true, Budget: 100_000, Days: 100})
	require.NoError(t, err)
	require.NotEmpty(t, p.Batches)
	for _, w := range p.Warnings {
		require.NotEqual(t, models.WarnWaterShort, w.Kind, w.Cause)
	}
	var out bytes.Buffer
	require.NoError(t, sheet.WriteText(&out, r, p))
	for _, s := range sheet.PrepSheets(r, p, nil, r.Now) {
		require.NoError(t, sheet.WriteSheetText(&out, r.Site, s))
	}
	require.Contains(t, out.String(), "House flash")
}
