package jobs

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestStatesOfSitesFollowWhatHappens(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-10T12:00:00+02:00")
	state := func() models.SiteState {
		t.Helper()
		_, err := s.computeStates(t.Context())
		require.NoError(t, err)
		page, err := s.Store.SiteStates(t.Context(), models.SiteStateFilter{}, models.Page{})
		require.NoError(t, err)
		require.Len(t, page.Rows, 1)
		return page.Rows[0]
	}
	first := state()
	require.Equal(t, models.PlanNone, first.Plan)
	require.NotEmpty(t, first.NextDay)
	require.NotNil(t, first.PublishDue)
	require.True(t, first.PublishDue.After(s.now), "due in the evening")
	n, err := s.computeStates(t.Context())
	require.NoError(t, err)
	require.Zero(t, n, "nothing has happened")

	// Time alone makes it overdue.
	s.now = first.PublishDue.Add(time.Hour)
	late := state()
	require.Equal(t, models.TroubleNotPublished, late.Troubles[0].Kind)
	require.Greater(t, late.Rank, first.Rank)
}
