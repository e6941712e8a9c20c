package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

func people(t *testing.T, open opener) {
	s := withShop(t, open)
	want := models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeKitchen}, Site: shop, Groups: []string{}, CreatedBy: "Ben"}
	ada, code, err := s.AddPerson(ctx, want, t0)
	require.NoError(t, err)
	until := t0.Add(models.LinkTime)
	want.ID, want.CreatedAt, want.LinkUntil = ada.ID, t0, &until
	require.Equal(t, want, ada)
	_, _, err = s.AddPerson(ctx, models.Person{Name: "Another", SignIn: "ada", Scopes: []string{models.ScopeRead}}, t0)
	isCode(t, models.CodeConflict, err)
	_, _, err = s.AddPerson(ctx, models.Person{Name: "Lost", SignIn: "lost", Scopes: []string{models.ScopeRead}, Site: "nowhere"}, t0)
	isCode(t, models.CodeNotFound, err)

	got, err := s.PersonByLink(ctx, code, at(1))
	require.NoError(t, err)
	require.Equal(t, ada.ID, got.ID)
	for _, wrong := range []string{"", code + "x"} {
		_, err = s.PersonByLink(ctx, wrong, at(1))
		isCode(t, models.CodeNotFound, err)
	}
	_, err = s.PersonByLink(ctx, code, until)
	isCode(t, models.CodeNotFound, err)
	code, err = s.NewLink(ctx, ada.ID, at(2))
	require.NoError(t, err)
	_, hash, err := s.PasswordOf(ctx, "ada")
	require.NoError(t, err)
	require.Empty(t, hash)

	require.NoError(t, s.CommitCtx(ctx, "secret", []byte("x"), time.Now().Add(time.Hour)))
	require.NoError(t, s.NameSession(ctx, "secret", models.Session{ID: "s1", Token: ada.ID, CreatedAt: t0, Browser: "phone"}))
	require.NoError(t, s.SetPassword(ctx, ada.ID, "$hash"))
	_, found, err := s.FindCtx(ctx, "secret")
	require.NoError(t, err)
	require.False(t, found, "a new password ends all sessions")
	_, err = s.PersonByLink(ctx, code, at(3))
	isCode(t, models.CodeNotFound, err)
	got, hash, err = s.PasswordOf(ctx, "ada")
	require.NoError(t, err)
	require.Equal(t, "$hash", hash)
	require.True(t, got.Ready)
	_, _, err = s.PasswordOf(ctx, "ben")
	isCode(t, models.CodeNotFound, err)

	require.NoError(t, s.SignedIn(ctx, ada.ID, at(5)))
	changed, err := s.ChangePerson(ctx, models.Person{ID: ada.ID, Name: "Ada B.", Scopes: []string{models.ScopeManage}})
	require.NoError(t, err)
	require.Equal(t, "ada", changed.SignIn)
	require.Equal(t, at(5), *changed.SignedInAt)
	token, err := s.TokenByID(ctx, ada.ID)
	require.NoError(t, err)
	require.True(t, token.May(models.ScopeManage, shop), "the permissions are those of the token")
	_, err = s.ChangePerson(ctx, models.Person{ID: ada.ID, Name: "x", Site: "nowhere"})
	isCode(t, models.CodeNotFound, err)

	require.NoError(t, s.RemovePerson(ctx, ada.ID, at(6)))
	token, err = s.TokenByID(ctx, ada.ID)
	require.NoError(t, err)
	require.NotNil(t, token.RevokedAt)
	list, err := s.People(ctx)
	require.NoError(t, err)
	require.Empty(t, list)
	for _, id := range []string{ada.ID, "nobody"} {
		isCode(t, models.CodeNotFound, s.RemovePerson(ctx, id, at(7)))
		isCode(t, models.CodeNotFound, s.SetPassword(ctx, id, "$"))
		isCode(t, models.CodeNotFound, s.SignedIn(ctx, id, at(7)))
		_, err = s.NewLink(ctx, id, at(7))
		isCode(t, models.CodeNotFound, err)
		_, err = s.ChangePerson(ctx, models.Person{ID: id})
		isCode(t, models.CodeNotFound, err)
	}
	_, _, err = s.AddPerson(ctx, want, at(8))
	require.NoError(t, err, "the name is available again")
}

func sessionsByHolder(t *testing.T, open opener) {
	now := t0
	s := open(t, store.WithClock(func() time.Time { return now }))
	key, _, err := s.AddToken(ctx, models.Token{Name: "key", Scopes: []string{models.ScopeRead}}, t0)
	require.NoError(t, err)
	require.NoError(t, s.CommitCtx(ctx, "one", []byte("x"), at(60)))
	require.NoError(t, s.NameSession(ctx, "one", models.Session{ID: "s1", Token: key.ID, CreatedAt: t0, Browser: "phone"}))
	require.NoError(t, s.CommitCtx(ctx, "two", []byte("x"), at(30)))
	require.NoError(t, s.NameSession(ctx, "two", models.Session{ID: "s2", Token: key.ID, CreatedAt: at(1), Browser: "laptop"}))
	require.NoError(t, s.CommitCtx(ctx, "nameless", []byte("x"), at(60)))
	list, err := s.Sessions(ctx)
	require.NoError(t, err)
	require.Equal(t, []models.Session{
		{ID: "s2", Token: key.ID, Name: "key", Groups: []string{}, CreatedAt: at(1), SeenAt: at(1), ExpiresAt: at(30), Browser: "laptop"},
		{ID: "s1", Token: key.ID, Name: "key", Groups: []string{}, CreatedAt: t0, SeenAt: t0, ExpiresAt: at(60), Browser: "phone"},
	}, list)

	now = at(40)
	_, found, err := s.FindCtx(ctx, "one")
	require.NoError(t, err)
	require.True(t, found)
	list, err = s.Sessions(ctx)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, at(40), list[0].SeenAt)
	require.NoError(t, s.EndSession(ctx, "s1"))
	isCode(t, models.CodeNotFound, s.EndSession(ctx, "s1"))
	_, found, err = s.FindCtx(ctx, "one")
	require.NoError(t, err)
	require.False(t, found)
}

func auditLog(t *testing.T, open opener) {
	s := open(t)
	for i, site := range []string{"a", "b", "a", "", "a"} {
		require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: at(i), By: "Ada", ByToken: "t", Site: site, Action: models.AuditSetUp, Subject: "costs"}))
	}
	all, err := s.Audit(ctx, nil, models.Page{Limit: 3})
	require.NoError(t, err)
	require.Len(t, all.Rows, 3)
	require.Equal(t, at(4), all.Rows[0].At)
	rest, err := s.Audit(ctx, nil, models.Page{Limit: 3, Cursor: *all.Next})
	require.NoError(t, err)
	require.Len(t, rest.Rows, 2)
	require.Nil(t, rest.Next)
	ofOne, err := s.Audit(ctx, []string{"a"}, models.Page{Limit: 2})
	require.NoError(t, err)
	ofOne, err = s.Audit(ctx, []string{"a"}, models.Page{Cursor: *ofOne.Next})
	require.NoError(t, err)
	require.Len(t, ofOne.Rows, 1)
	require.Equal(t, "a", ofOne.Rows[0].Site)
	_, err = s.Audit(ctx, nil, models.Page{Cursor: "x"})
	isCode(t, models.CodeInvalid, err)
}

func webhooks(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.AddWebhook(ctx, models.Webhook{URL: "https://example.com", Site: "nowhere"}, t0)
	isCode(t, models.CodeNotFound, err)
	here, secret, err := s.AddWebhook(ctx, models.Webhook{URL: "https://example.com/a", Events: []string{models.HookMarked}, Site: shop, CreatedBy: "Ada"}, t0)
	require.NoError(t, err)
	everywhere, _, err := s.AddWebhook(ctx, models.Webhook{URL: "https://example.com/b", Events: []string{models.HookMarked, models.HookPublished}}, at(1))
	require.NoError(t, err)
	got, again, err := s.Webhook(ctx, here.ID)
	require.NoError(t, err)
	require.Equal(t, here, got)
	require.Equal(t, secret, again)
	list, err := s.Webhooks(ctx)
	require.NoError(t, err)
	require.Equal(t, []models.Webhook{here, everywhere}, list)

	add := func(minute int, kind string) error {
		_, err := s.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: kind, At: at(minute), Data: []byte(`{}`)})
		return err
	}
	for i := range 5 {
		require.NoError(t, add(2, "mark"))
		require.NoError(t, add(i, "sheet"))
	}
	require.NoError(t, add(2, "stock"))
	require.NoError(t, add(2, "warning"))
	failing := s.Within(ctx, func(tx models.Store) error {
		if _, err := tx.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: "mark", At: at(2), Data: []byte(`{}`)}); err != nil {
			return err
		}
		return models.Errorf(models.CodeConflict, "rolled back")
	})
	isCode(t, models.CodeConflict, failing)
	seen := map[string]bool{}
	page := models.Page{Limit: 2}
	for {
		rows, err := s.Deliveries(ctx, everywhere.ID, page)
		require.NoError(t, err)
		for _, d := range rows.Rows {
			require.False(t, seen[d.ID], "each delivery is listed once")
			seen[d.ID] = true
		}
		if rows.Next == nil {
			break
		}
		page.Cursor = *rows.Next
	}
	require.Len(t, seen, 10)
	_, err = s.Deliveries(ctx, here.ID, models.Page{Cursor: "x"})
	isCode(t, models.CodeInvalid, err)
	rows, err := s.Deliveries(ctx, here.ID, models.Page{})
	require.NoError(t, err)
	require.Len(t, rows.Rows, 5)

	d := rows.Rows[0]
	_, err = s.Replay(ctx, d.ID, at(3))
	isCode(t, models.CodeConflict, err)
	tried := at(3)
	d.State, d.Attempts, d.Status, d.Answer, d.TriedAt, d.NextAt = models.DeliveryFailed, 8, 500, "no \xff", &tried, nil
	require.NoError(t, s.Tried(ctx, d))
	d, err = s.Delivery(ctx, d.ID)
	require.NoError(t, err)
	require.Equal(t, "no \ufffd", d.Answer)
	require.Equal(t, 500, d.Status)
	replayed, err := s.Replay(ctx, d.ID, at(4))
	require.NoError(t, err)
	require.Equal(t, models.DeliveryWaiting, replayed.State)
	_, err = s.Replay(ctx, "none", at(4))
	isCode(t, models.CodeNotFound, err)
	d.ID = "none"
	isCode(t, models.CodeNotFound, s.Tried(ctx, d))

	// Those older than a month are removed at night; removing a webhook removes its deliveries.
	require.NoError(t, add(31*24*60, "mark"))
	keep, err := models.Keep{}.WithDefaults()
	require.NoError(t, err)
	_, err = s.TidyService(ctx, keep, at(31*24*60))
	require.NoError(t, err)
	rows, err = s.Deliveries(ctx, here.ID, models.Page{})
	require.NoError(t, err)
	require.Len(t, rows.Rows, 1)
	require.NoError(t, s.RemoveWebhook(ctx, here.ID))
	isCode(t, models.CodeNotFound, s.RemoveWebhook(ctx, here.ID))
	_, err = s.Delivery(ctx, rows.Rows[0].ID)
	isCode(t, models.CodeNotFound, err)
	_, _, err = s.Webhook(ctx, here.ID)
	isCode(t, models.CodeNotFound, err)
}
