package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func groups(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("lido"), "", t0)
	require.NoError(t, err)
	created, err := s.PutGroup(ctx, models.Group{Code: "north", Name: "North", Sites: []string{shop, shop}})
	require.NoError(t, err)
	require.True(t, created)
	want, secret, err := s.AddToken(ctx, models.Token{Name: "region", Scopes: []string{models.ScopeRead}, Groups: []string{"north"}}, t0)
	require.NoError(t, err)
	reach := func() []string {
		t.Helper()
		got, err := s.TokenBySecret(ctx, secret, t0)
		require.NoError(t, err)
		byID, err := s.TokenByID(ctx, want.ID)
		require.NoError(t, err)
		require.Equal(t, got.Sites(), byID.Sites())
		return got.Sites()
	}
	require.Equal(t, []string{shop}, reach())
	created, err = s.PutGroup(ctx, models.Group{Code: "north", Name: "Northern", Sites: []string{"lido", shop}})
	require.NoError(t, err)
	require.False(t, created)
	require.Equal(t, []string{shop, "lido"}, reach(), "as the group is now")
	_, err = s.PutGroup(ctx, models.Group{Code: "north", Name: "North", Sites: []string{"nowhere"}})
	isCode(t, models.CodeInvalid, err)
	g, err := s.Group(ctx, "north")
	require.NoError(t, err)
	require.Equal(t, models.Group{Code: "north", Name: "Northern", Sites: []string{shop, "lido"}}, g)
	require.NoError(t, s.DeleteSite(ctx, "lido"))
	require.Equal(t, []string{shop}, reach())
	isCode(t, models.CodeConflict, s.DropGroup(ctx, "north"))

	_, err = s.PutGroup(ctx, models.Group{Code: "empty", Name: "Empty"})
	require.NoError(t, err)
	list, err := s.Groups(ctx, nil, models.Page{Limit: 1})
	require.NoError(t, err)
	require.Equal(t, []models.GroupHead{{Code: "empty", Name: "Empty"}}, list.Rows)
	list, err = s.Groups(ctx, nil, models.Page{Cursor: *list.Next})
	require.NoError(t, err)
	require.Equal(t, []models.GroupHead{{Code: "north", Name: "Northern", Sites: 1}}, list.Rows)
	list, err = s.Groups(ctx, []string{"north"}, models.Page{})
	require.NoError(t, err)
	require.Len(t, list.Rows, 1)
	_, err = s.Groups(ctx, nil, models.Page{Cursor: "x"})
	isCode(t, models.CodeInvalid, err)

	// Who names a site and groups keeps the groups when the site is deleted, and reaches nothing more.
	_, _, err = s.PutSetup(ctx, setupOf("pier"), "", t0)
	require.NoError(t, err)
	both, _, err := s.AddToken(ctx, models.Token{Name: "both", Scopes: []string{models.ScopeRead}, Site: "pier", Groups: []string{"north"}}, t0)
	require.NoError(t, err)
	require.NoError(t, s.DeleteSite(ctx, "pier"))
	left, err := s.TokenByID(ctx, both.ID)
	require.NoError(t, err)
	require.Equal(t, []string{shop}, left.Sites())
	require.False(t, left.Everywhere())

	require.NoError(t, s.RevokeToken(ctx, want.ID, t0))
	require.NoError(t, s.RevokeToken(ctx, both.ID, t0))
	require.NoError(t, s.DropGroup(ctx, "north"))
	isCode(t, models.CodeNotFound, s.DropGroup(ctx, "north"))
	_, _, err = s.AddToken(ctx, models.Token{Name: "late", Scopes: []string{models.ScopeRead}, Groups: []string{"north"}}, t0)
	isCode(t, models.CodeNotFound, err)
}
