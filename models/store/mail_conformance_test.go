package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

// reader is a person who may read at the shop and has a confirmed address that gets these kinds.
func reader(t *testing.T, s *store.Store, name, address string, kinds ...string) models.Person {
	t.Helper()
	p, _, err := s.AddPerson(ctx, models.Person{Name: name, SignIn: name, Scopes: []string{models.ScopeKitchen}, Site: shop}, t0)
	require.NoError(t, err)
	_, err = s.PutMailSettings(ctx, models.MailSettings{Person: p.ID, Address: address, Subscriptions: []models.MailSubscription{{Site: shop, Kinds: kinds}}})
	require.NoError(t, err)
	confirm(t, s, p.ID)
	return p
}

func confirm(t *testing.T, s *store.Store, person string) {
	t.Helper()
	require.NoError(t, s.QueueConfirmation(ctx, person, t0))
	_, changed, err := s.ConfirmMail(ctx, newestMail(t, s, person).About, at(1))
	require.NoError(t, err)
	require.True(t, changed)
}

func mailsOf(t *testing.T, s *store.Store, person string) []models.Mail {
	t.Helper()
	rows, err := s.MailLog(ctx, person, models.Page{})
	require.NoError(t, err)
	return rows.Rows
}

func newestMail(t *testing.T, s *store.Store, person string) models.Mail {
	t.Helper()
	list := mailsOf(t, s, person)
	require.NotEmpty(t, list)
	return list[0]
}

func mailSettings(t *testing.T, open opener) {
	s := withShop(t, open)
	_, err := s.MailSettings(ctx, "nobody")
	isCode(t, models.CodeNotFound, err)
	p, _, err := s.AddPerson(ctx, models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeManage}}, t0)
	require.NoError(t, err)
	isCode(t, models.CodeConflict, s.QueueConfirmation(ctx, p.ID, t0))
	set := models.MailSettings{Person: p.ID, Address: "ada@example.com", Subscriptions: []models.MailSubscription{{Site: shop, Kinds: []string{models.MailReview, models.MailSheet}}}}
	got, err := s.PutMailSettings(ctx, set)
	require.NoError(t, err)
	require.Equal(t, []models.MailSubscription{{Site: shop, Kinds: []string{models.MailSheet, models.MailReview}}}, got.Subscriptions)
	require.Nil(t, got.ConfirmedAt)
	_, err = s.PutMailSettings(ctx, models.MailSettings{Person: p.ID, Address: "x@example.com", Subscriptions: []models.MailSubscription{{Site: "nowhere"}}})
	isCode(t, models.CodeNotFound, err)
	_, err = s.PutMailSettings(ctx, models.MailSettings{Person: "nobody", Address: "x@example.com"})
	isCode(t, models.CodeNotFound, err)

	// Nothing is queued before the address is confirmed, and each link works until a newer one is made.
	cause := models.MailCause{Site: shop, Kind: models.MailSheet, About: "2026-07-11", At: t0, Until: at(600)}
	require.NoError(t, s.QueueMail(ctx, cause))
	require.Empty(t, mailsOf(t, s, p.ID))
	require.NoError(t, s.QueueConfirmation(ctx, p.ID, t0))
	first := newestMail(t, s, p.ID)
	require.Equal(t, models.MailConfirm, first.Kind)
	require.Equal(t, "ada@example.com", first.Address)
	require.NoError(t, s.QueueConfirmation(ctx, p.ID, at(1)))
	second := newestMail(t, s, p.ID)
	_, err = s.MailByCode(ctx, first.About, at(2))
	isCode(t, models.CodeNotFound, err)
	_, _, err = s.ConfirmMail(ctx, second.About, at(1).Add(models.LinkTime))
	isCode(t, models.CodeNotFound, err)
	got, err = s.MailByCode(ctx, second.About, at(2))
	require.NoError(t, err)
	require.Nil(t, got.ConfirmedAt, "looking at the page confirms nothing")
	got, changed, err := s.ConfirmMail(ctx, second.About, at(2))
	require.NoError(t, err)
	require.True(t, changed)
	require.Equal(t, at(2), *got.ConfirmedAt)
	got, changed, err = s.ConfirmMail(ctx, second.About, at(3))
	require.NoError(t, err)
	require.False(t, changed)
	require.Equal(t, at(2), *got.ConfirmedAt)
	isCode(t, models.CodeConflict, s.QueueConfirmation(ctx, p.ID, at(4)))

	require.NoError(t, s.QueueMail(ctx, cause))
	require.NoError(t, s.QueueMail(ctx, cause), "again")
	require.Len(t, mailsOf(t, s, p.ID), 3, "the same is sent once")

	// The same address stays confirmed; another is not, and its predecessor's link confirms nothing.
	set.Address = "ada@example.com"
	got, err = s.PutMailSettings(ctx, set)
	require.NoError(t, err)
	require.NotNil(t, got.ConfirmedAt)
	set.Address = "eve@example.com"
	got, err = s.PutMailSettings(ctx, set)
	require.NoError(t, err)
	require.Nil(t, got.ConfirmedAt)
	_, err = s.MailByCode(ctx, second.About, at(4))
	isCode(t, models.CodeNotFound, err)
	for i := range models.ConfirmationsPerDay {
		require.NoError(t, s.QueueConfirmation(ctx, p.ID, at(5+i)))
	}
	isCode(t, models.CodeTooMany, s.QueueConfirmation(ctx, p.ID, at(9)))
	require.NoError(t, s.QueueConfirmation(ctx, p.ID, at(9).Add(24*time.Hour)))

	got, err = s.PutMailSettings(ctx, models.MailSettings{Person: p.ID})
	require.NoError(t, err)
	require.Equal(t, models.MailSettings{Person: p.ID, Subscriptions: []models.MailSubscription{}}, got)
	require.Empty(t, mailsOf(t, s, p.ID), "the log goes with the address")
}

func mailStops(t *testing.T, open opener) {
	s := withShop(t, open)
	p := reader(t, s, "ada", "ada@example.com", models.MailKinds...)
	require.NoError(t, s.QueueMail(ctx, models.MailCause{Site: shop, Kind: models.MailSheet, About: "2026-07-11", At: at(2), Until: at(600)}))
	m, token, err := s.Mail(ctx, newestMail(t, s, p.ID).ID)
	require.NoError(t, err)
	require.Equal(t, "2026-07-11", m.About)
	require.Greater(t, len(token), 40, "nobody guesses it")
	_, err = s.MailStop(ctx, "guess")
	isCode(t, models.CodeNotFound, err)
	_, err = s.StopMail(ctx, "guess", true)
	isCode(t, models.CodeNotFound, err)
	x, err := s.MailStop(ctx, token)
	require.NoError(t, err)
	require.Equal(t, models.MailStop{Person: p.ID, Name: "ada", Address: "ada@example.com", Site: shop, Kind: models.MailSheet}, x)

	stopped, err := s.StopMail(ctx, token, false)
	require.NoError(t, err)
	require.Len(t, stopped, 1)
	again, err := s.StopMail(ctx, token, false)
	require.NoError(t, err)
	require.Empty(t, again)
	require.NoError(t, s.QueueMail(ctx, models.MailCause{Site: shop, Kind: models.MailSheet, About: "2026-07-12", At: at(3), Until: at(600)}))
	require.Len(t, mailsOf(t, s, p.ID), 2, "the confirmation and the first sheet")
	set, err := s.MailSettings(ctx, p.ID)
	require.NoError(t, err)
	require.Equal(t, []string{models.MailActNow, models.MailActToday, models.MailReview}, set.Kinds(shop))

	// Turned on again, the link in the old message stops it again; one link can stop everything.
	_, err = s.PutMailSettings(ctx, models.MailSettings{Person: p.ID, Address: "ada@example.com", Subscriptions: []models.MailSubscription{{Site: shop, Kinds: models.MailKinds}}})
	require.NoError(t, err)
	stopped, err = s.StopMail(ctx, token, true)
	require.NoError(t, err)
	require.Len(t, stopped, 4)
	set, err = s.MailSettings(ctx, p.ID)
	require.NoError(t, err)
	require.Empty(t, set.Subscriptions)
	x, err = s.MailStop(ctx, token)
	require.NoError(t, err)
	require.True(t, x.Stopped)
}

func mailReaders(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("pier"), "", t0)
	require.NoError(t, err)
	queue := func(day string) {
		t.Helper()
		require.NoError(t, s.QueueMail(ctx, models.MailCause{Site: shop, Kind: models.MailSheet, About: day, At: at(2), Until: at(600)}))
	}
	p := reader(t, s, "ada", "ada@example.com", models.MailSheet)
	queue("2026-07-11")
	require.Len(t, mailsOf(t, s, p.ID), 2)
	p.Scopes = []string{models.ScopeSales}
	_, err = s.ChangePerson(ctx, p)
	require.NoError(t, err)
	queue("2026-07-12")
	p.Scopes, p.Site = []string{models.ScopeManage}, "pier"
	_, err = s.ChangePerson(ctx, p)
	require.NoError(t, err)
	queue("2026-07-13")
	require.Len(t, mailsOf(t, s, p.ID), 2, "only to those who may read there")
	p.Site = ""
	_, err = s.ChangePerson(ctx, p)
	require.NoError(t, err)
	queue("2026-07-14")
	require.Len(t, mailsOf(t, s, p.ID), 3)
	_, err = s.PutGroup(ctx, models.Group{Code: "north", Name: "North", Sites: []string{"pier"}})
	require.NoError(t, err)
	p.Groups = []string{"north"}
	_, err = s.ChangePerson(ctx, p)
	require.NoError(t, err)
	queue("2026-07-15")
	require.Len(t, mailsOf(t, s, p.ID), 3, "of another site's group")
	_, err = s.PutGroup(ctx, models.Group{Code: "north", Name: "North", Sites: []string{shop}})
	require.NoError(t, err)
	queue("2026-07-16")
	require.Len(t, mailsOf(t, s, p.ID), 4, "the group has the site now")
	require.NoError(t, s.RemovePerson(ctx, p.ID, at(3)))
	queue("2026-07-15")
	require.Empty(t, mailsOf(t, s, p.ID))
}

func mailWarnings(t *testing.T, open opener) {
	s := withShop(t, open)
	now := reader(t, s, "now", "now@example.com", models.MailActNow)
	both := reader(t, s, "both", "both@example.com", models.MailActNow, models.MailActToday)
	warn := func(minute int, list ...models.OpenWarning) {
		t.Helper()
		require.NoError(t, s.QueueWarningMail(ctx, shop, list, at(minute)))
	}
	w := func(id, grade string) models.OpenWarning {
		return models.OpenWarning{ID: id, Warning: models.Warning{Grade: grade}}
	}
	count := func(person models.Person) int { return len(mailsOf(t, s, person.ID)) - 1 } // without the confirmation
	warn(2, w("ice", models.GradeActToday), w("beans", models.GradeActToday), w("old", models.GradeNote))
	require.Zero(t, count(now))
	require.Equal(t, 1, count(both), "one message about both")
	require.Equal(t, models.MailActToday, newestMail(t, s, both.ID).Kind)
	require.Equal(t, "ice beans", newestMail(t, s, both.ID).About)
	for minute := range 10 {
		warn(3+minute, w("ice", models.GradeActToday), w("beans", models.GradeActToday))
	}
	require.Equal(t, 1, count(both), "not at every check")
	warn(20, w("ice", models.GradeActNow), w("beans", models.GradeActToday), w("milk", models.GradeActToday))
	require.Equal(t, 1, count(now))
	require.Equal(t, 2, count(both), "it has become more urgent")
	require.Equal(t, models.MailActNow, newestMail(t, s, both.ID).Kind)
	require.Equal(t, "ice milk", newestMail(t, s, both.ID).About)
	warn(21, w("ice", models.GradeActToday))
	require.Equal(t, 2, count(both), "less urgent is not news")

	// Beyond the limit messages are logged as not sent.
	for i := range models.WarningMailsPerHour + 2 {
		warn(22, w(string(rune('a'+i)), models.GradeActNow))
	}
	sent, not := 0, 0
	for _, m := range mailsOf(t, s, now.ID) {
		switch {
		case m.Kind == models.MailConfirm:
		case m.State == models.DeliveryFailed:
			not++
			require.Contains(t, m.Answer, "at most 6 messages an hour")
		default:
			sent++
		}
	}
	require.Equal(t, models.WarningMailsPerHour, sent)
	require.Equal(t, 3, not)
	warn(90, w("later", models.GradeActNow))
	require.Equal(t, models.DeliveryWaiting, newestMail(t, s, now.ID).State)
}

func mailAttempts(t *testing.T, open opener) {
	s := withShop(t, open)
	p := reader(t, s, "ada", "ada@example.com", models.MailSheet)
	confirmation := newestMail(t, s, p.ID)
	for i := range 5 {
		require.NoError(t, s.QueueMail(ctx, models.MailCause{Site: shop, Kind: models.MailSheet, About: string(models.Date("2026-07-11").AddDays(i)), At: at(2), Until: at(600)}))
	}
	seen := map[string]bool{}
	page := models.Page{Limit: 2}
	for {
		rows, err := s.MailLog(ctx, p.ID, page)
		require.NoError(t, err)
		for _, m := range rows.Rows {
			require.False(t, seen[m.ID], "each message is listed once")
			seen[m.ID] = true
		}
		if rows.Next == nil {
			break
		}
		page.Cursor = *rows.Next
	}
	require.Len(t, seen, 6)
	_, err := s.MailLog(ctx, p.ID, models.Page{Cursor: "x"})
	isCode(t, models.CodeInvalid, err)

	tried, next := at(3), at(8)
	confirmation.State, confirmation.Attempts, confirmation.TriedAt, confirmation.NextAt, confirmation.Answer = models.DeliveryWaiting, 1, &tried, &next, "busy \xff"
	require.NoError(t, s.MailTried(ctx, confirmation))
	got, stop, err := s.Mail(ctx, confirmation.ID)
	require.NoError(t, err)
	require.Empty(t, stop)
	require.Equal(t, "busy \ufffd", got.Answer)
	require.Equal(t, next, *got.NextAt)
	require.NotEmpty(t, got.About, "the next attempt needs it")
	got.State, got.NextAt = models.DeliveryDelivered, nil
	require.NoError(t, s.MailTried(ctx, got))
	got, _, err = s.Mail(ctx, got.ID)
	require.NoError(t, err)
	require.Empty(t, got.About, "the code is forgotten once it is sent")
	got.ID = "none"
	isCode(t, models.CodeNotFound, s.MailTried(ctx, got))
	_, _, err = s.Mail(ctx, "none")
	isCode(t, models.CodeNotFound, err)

	// Old messages are removed at night.
	require.NoError(t, s.QueueMail(ctx, models.MailCause{Site: shop, Kind: models.MailSheet, About: "2026-08-20", At: at(31 * 24 * 60), Until: at(32 * 24 * 60)}))
	keep, err := models.Keep{}.WithDefaults()
	require.NoError(t, err)
	_, err = s.TidyService(ctx, keep, at(31*24*60))
	require.NoError(t, err)
	require.Len(t, mailsOf(t, s, p.ID), 1)
}
