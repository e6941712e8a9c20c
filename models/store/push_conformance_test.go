package store_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

// owner is a person who may read at the shop.
func owner(t *testing.T, s *store.Store, name string) models.Person {
	t.Helper()
	p, _, err := s.AddPerson(ctx, models.Person{Name: name, SignIn: name, Scopes: []string{models.ScopeKitchen}, Site: shop}, t0)
	require.NoError(t, err)
	return p
}

// deviceOf turns a device on.
func deviceOf(t *testing.T, s *store.Store, p models.Person, endpoint string) models.PushDevice {
	t.Helper()
	d, _, err := s.AddPushDevice(ctx, device(p, endpoint))
	require.NoError(t, err)
	return d
}

func device(p models.Person, endpoint string) models.PushDevice {
	return models.PushDevice{Person: p.ID, Site: shop, Browser: "phone", Endpoint: "https://push.example/" + endpoint, Keys: models.PushKeys{P256dh: "p", Auth: "a"}, Origin: "https://cafe.example", CreatedAt: t0}
}

func pushesOf(t *testing.T, s *store.Store, p models.Person) []models.Push {
	t.Helper()
	rows, err := s.PushLog(ctx, p.ID, models.Page{})
	require.NoError(t, err)
	return rows.Rows
}

func pushDevices(t *testing.T, open opener) {
	s := withShop(t, open)
	public, private, err := s.PushKey(ctx, t0)
	require.NoError(t, err)
	require.Len(t, public, 87)
	require.Len(t, private, 43)
	again, same, err := s.PushKey(ctx, at(1))
	require.NoError(t, err)
	require.Equal(t, public, again, "made once")
	require.Equal(t, private, same)

	ada, ben := owner(t, s, "ada"), owner(t, s, "ben")
	d, added, err := s.AddPushDevice(ctx, device(ada, "1"))
	require.NoError(t, err)
	require.True(t, added)
	got, err := s.PushDevice(ctx, d.ID)
	require.NoError(t, err)
	require.Equal(t, d, got)
	twice, added, err := s.AddPushDevice(ctx, device(ada, "1"))
	require.NoError(t, err)
	require.False(t, added)
	require.Equal(t, d.ID, twice.ID)

	// Who turns it on last has it, with nothing of the person before.
	require.NoError(t, s.QueuePush(ctx, models.MailCause{Site: shop, Kind: models.MailSheet, About: "2026-07-11", At: t0, Until: at(60)}))
	require.Len(t, pushesOf(t, s, ada), 1)
	taken, added, err := s.AddPushDevice(ctx, device(ben, "1"))
	require.NoError(t, err)
	require.True(t, added)
	require.NotEqual(t, d.ID, taken.ID)
	require.Empty(t, pushesOf(t, s, ada))
	_, err = s.PushDevice(ctx, d.ID)
	isCode(t, models.CodeNotFound, err)

	for i := range models.PushDevicesPerPerson {
		deviceOf(t, s, ada, fmt.Sprintf("ada-%d", i))
	}
	_, _, err = s.AddPushDevice(ctx, device(ada, "one too many"))
	isCode(t, models.CodeConflict, err)
	set, err := s.PushSettings(ctx, ada.ID)
	require.NoError(t, err)
	require.Len(t, set.Devices, models.PushDevicesPerPerson)
	require.Equal(t, models.PushKinds, set.Kinds(shop), "all, until somebody chooses")
	require.NoError(t, s.RemovePushDevice(ctx, set.Devices[0].ID))
	isCode(t, models.CodeNotFound, s.RemovePushDevice(ctx, set.Devices[0].ID))

	set, err = s.PutPushKinds(ctx, ada.ID, []models.MailSubscription{{Site: shop, Kinds: []string{models.MailActNow, models.MailSheet, models.MailReview}}})
	require.NoError(t, err)
	require.Equal(t, []string{models.MailSheet, models.MailActNow}, set.Kinds(shop))
	set, err = s.PutPushKinds(ctx, ada.ID, []models.MailSubscription{{Site: shop}})
	require.NoError(t, err)
	require.Empty(t, set.Kinds(shop), "nothing at all is a choice too")
	_, err = s.PutPushKinds(ctx, ada.ID, []models.MailSubscription{{Site: "nowhere"}})
	isCode(t, models.CodeNotFound, err)
	for _, of := range []string{"nobody", ""} {
		_, err = s.PushSettings(ctx, of)
		isCode(t, models.CodeNotFound, err)
		_, err = s.PutPushKinds(ctx, of, nil)
		isCode(t, models.CodeNotFound, err)
		_, _, err = s.AddPushDevice(ctx, device(models.Person{ID: of}, "x"))
		isCode(t, models.CodeNotFound, err)
	}
	require.NoError(t, s.RemovePerson(ctx, ben.ID, t0))
	_, err = s.PushDevice(ctx, taken.ID)
	isCode(t, models.CodeNotFound, err)
}

func pushWarnings(t *testing.T, open opener) {
	s := withShop(t, open)
	now, both := owner(t, s, "now"), owner(t, s, "both")
	deviceOf(t, s, now, "now")
	deviceOf(t, s, both, "both")
	_, err := s.PutPushKinds(ctx, now.ID, []models.MailSubscription{{Site: shop, Kinds: []string{models.MailActNow}}})
	require.NoError(t, err)
	warn := func(minute int, list ...models.OpenWarning) {
		t.Helper()
		require.NoError(t, s.QueueWarningPush(ctx, shop, list, at(minute)))
	}
	w := func(id, grade string) models.OpenWarning {
		return models.OpenWarning{ID: id, Warning: models.Warning{Grade: grade}}
	}
	warn(2, w("ice", models.GradeActToday), w("beans", models.GradeActToday), w("old", models.GradeNote))
	require.Empty(t, pushesOf(t, s, now))
	require.Len(t, pushesOf(t, s, both), 1, "one notification about both")
	require.Equal(t, "ice beans", pushesOf(t, s, both)[0].About)
	require.Equal(t, models.MailActToday, pushesOf(t, s, both)[0].Kind)
	warn(3, w("ice", models.GradeActToday), w("beans", models.GradeActToday))
	require.Len(t, pushesOf(t, s, both), 1, "not at every check")
	warn(20, w("ice", models.GradeActNow), w("milk", models.GradeActToday))
	require.Len(t, pushesOf(t, s, now), 1)
	require.Equal(t, models.MailActNow, pushesOf(t, s, both)[0].Kind, "it has become more urgent")
	require.Equal(t, "ice milk", pushesOf(t, s, both)[0].About)
	warn(21, w("ice", models.GradeActToday))
	require.Len(t, pushesOf(t, s, both), 2, "less urgent is not news")

	// Another device of the same person is sent what is open.
	deviceOf(t, s, both, "laptop")
	warn(22, w("ice", models.GradeActNow))
	require.Len(t, pushesOf(t, s, both), 3)

	for i := range models.WarningPushesPerHour {
		warn(23, w(string(rune('a'+i)), models.GradeActNow))
	}
	list := pushesOf(t, s, now)
	require.Equal(t, models.DeliveryFailed, list[0].State)
	require.Contains(t, list[0].Answer, "at most 6 notifications an hour")
	require.Equal(t, models.DeliveryWaiting, list[1].State)
	warn(90, w("later", models.GradeActNow))
	require.Equal(t, models.DeliveryWaiting, pushesOf(t, s, now)[0].State)

	// Only to those who may read there.
	now.Scopes = []string{models.ScopeSales}
	_, err = s.ChangePerson(ctx, now)
	require.NoError(t, err)
	before := len(pushesOf(t, s, now))
	warn(200, w("another", models.GradeActNow))
	require.Len(t, pushesOf(t, s, now), before)
}

func pushAttempts(t *testing.T, open opener) {
	s := withShop(t, open)
	ada := owner(t, s, "ada")
	d := deviceOf(t, s, ada, "1")
	for i := range 5 {
		cause := models.MailCause{Site: shop, Kind: models.MailSheet, About: string(models.Date("2026-07-11").AddDays(i)), At: at(2), Until: at(600)}
		require.NoError(t, s.QueuePush(ctx, cause))
		require.NoError(t, s.QueuePush(ctx, cause), "again")
	}
	rows, err := s.PushLog(ctx, ada.ID, models.Page{Limit: 3})
	require.NoError(t, err)
	more, err := s.PushLog(ctx, ada.ID, models.Page{Cursor: *rows.Next})
	require.NoError(t, err)
	require.Len(t, append(rows.Rows, more.Rows...), 5)
	_, err = s.PushLog(ctx, ada.ID, models.Page{Cursor: "x"})
	isCode(t, models.CodeInvalid, err)

	tried, next := at(3), at(8)
	p := rows.Rows[0]
	p.Attempts, p.TriedAt, p.NextAt, p.Status, p.Answer = 1, &tried, &next, 503, "busy \xff"
	require.NoError(t, s.PushTried(ctx, p))
	queued, err := s.Enqueue(ctx, models.Job{Kind: models.JobPush, Key: p.ID + "/1"})
	require.NoError(t, err)
	require.False(t, queued, "the next attempt is queued already")
	got, of, err := s.Push(ctx, p.ID)
	require.NoError(t, err)
	require.Equal(t, "busy \ufffd", got.Answer)
	require.Equal(t, next, *got.NextAt)
	require.Equal(t, 503, got.Status)
	require.Equal(t, d, of)
	got.State, got.NextAt = models.DeliveryDelivered, nil
	require.NoError(t, s.PushTried(ctx, got))
	of, err = s.PushDevice(ctx, d.ID)
	require.NoError(t, err)
	require.Equal(t, tried, *of.SentAt)
	got.ID = "none"
	isCode(t, models.CodeNotFound, s.PushTried(ctx, got))
	_, _, err = s.Push(ctx, "none")
	isCode(t, models.CodeNotFound, err)

	// Old notifications are removed at night; the device stays.
	keep, err := models.Keep{}.WithDefaults()
	require.NoError(t, err)
	require.NoError(t, s.QueueWarningPush(ctx, shop, []models.OpenWarning{{ID: "ice", Warning: models.Warning{Grade: models.GradeActNow}}}, at(31*24*60)))
	done, err := s.TidyService(ctx, keep, at(31*24*60))
	require.NoError(t, err)
	require.Len(t, pushesOf(t, s, ada), 1)
	require.EqualValues(t, 5, done.Removed[models.KeepDeliveries])
	done, err = s.TidyService(ctx, keep, at(500*24*60))
	require.NoError(t, err)
	require.EqualValues(t, 2, done.Removed[models.KeepDeliveries], "the notification, and that the warning was shown")
	require.NoError(t, s.RemovePushDevice(ctx, d.ID))
}
