package store_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func learntChanges(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("other"), "", t0)
	require.NoError(t, err)
	c := models.LearntChange{Of: "retention:flash", Value: 2.4, SetUp: 2.1, Unit: "g/g", At: at(1), By: "Ada",
		Set: []models.LearntField{{Pointer: "/beverages/flash/retained_ratio", From: json.RawMessage("2.1"), To: json.RawMessage("2.4")}}}
	first, err := s.AddLearntChange(ctx, shop, c)
	require.NoError(t, err)
	require.NotEmpty(t, first.ID)
	c.Of, c.At = "strength:flash", at(2)
	second, err := s.AddLearntChange(ctx, shop, c)
	require.NoError(t, err)
	got, err := s.LearntChanges(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, []models.LearntChange{second, first}, got, "newest first")

	isCode(t, models.CodeNotFound, s.UndoLearntChange(ctx, "other", first.ID, "Ben", at(3)))
	require.NoError(t, s.UndoLearntChange(ctx, shop, first.ID, "Ben", at(3)))
	isCode(t, models.CodeConflict, s.UndoLearntChange(ctx, shop, first.ID, "Ben", at(4)))
	got, err = s.LearntChanges(ctx, shop)
	require.NoError(t, err)
	require.True(t, at(3).Equal(*got[1].UndoneAt))
	require.Equal(t, "Ben", got[1].UndoneBy)
	require.Equal(t, first.Set, got[1].Set, "the old value is kept")
	none, err := s.LearntChanges(ctx, "other")
	require.NoError(t, err)
	require.Empty(t, none)
	_, err = s.AddLearntChange(ctx, "nowhere", c)
	isCode(t, models.CodeNotFound, err)
}
