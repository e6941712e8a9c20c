package jobs

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/jobs/outside"
	"hotday/jobs/push"
	"hotday/jobs/push/pushtest"
	"hotday/models"
)

// phone is a shop whose manager has a device that shows its notifications.
type phone struct {
	*shop
	service *pushtest.Service
	browser pushtest.Browser
	person  models.Person
	device  models.PushDevice
}

func newPhone(t *testing.T, now string, language string) *phone {
	t.Helper()
	p := &phone{shop: newShop(t, now), service: pushtest.Start(t), browser: pushtest.NewBrowser(t)}
	p.PrivateWebhooks = true
	p.hooks = outside.Client(true, deliveryTimeout)
	setup, etag, err := p.Store.Setup(t.Context(), p.site)
	require.NoError(t, err)
	setup.Site.Language = language
	_, _, err = p.Store.PutSetup(t.Context(), setup, etag, p.now)
	require.NoError(t, err)
	p.person, _, err = p.Store.AddPerson(t.Context(), models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeManage}, Site: p.site}, p.now)
	require.NoError(t, err)
	p.turnOn()
	return p
}

func (p *phone) turnOn() {
	p.t.Helper()
	var err error
	p.device, _, err = p.Store.AddPushDevice(p.t.Context(), models.PushDevice{Person: p.person.ID, Site: p.site, Endpoint: p.service.URL + "/send/ada", Keys: p.browser.Keys(),
		Origin: "https://cafe.example", CreatedAt: p.now})
	require.NoError(p.t, err)
}

func (p *phone) log() []models.Push {
	p.t.Helper()
	rows, err := p.Store.PushLog(p.t.Context(), p.person.ID, models.Page{})
	require.NoError(p.t, err)
	return rows.Rows
}

// attempt makes an attempt at every notification.
func (p *phone) attempt() {
	p.t.Helper()
	for _, x := range p.log() {
		p.do(models.Job{Kind: models.JobPush, Key: x.ID + "/0"})
	}
}

// silent sends what waits, of which nothing may arrive.
func (p *phone) silent() {
	p.t.Helper()
	before := len(p.service.Received())
	p.attempt()
	require.Len(p.t, p.service.Received(), before)
}

// shown sends what waits and returns the one notification that arrives.
func (p *phone) shown() (push.Note, pushtest.Received) {
	p.t.Helper()
	before := len(p.service.Received())
	p.attempt()
	got := p.service.Received()
	require.Len(p.t, got, before+1, "%+v", p.log())
	text, err := p.browser.Decrypt(got[before].Body)
	require.NoError(p.t, err)
	var n push.Note
	require.NoError(p.t, json.Unmarshal(text, &n))
	return n, got[before]
}

// queue queues a notification of a sheet, which the shop has or not.
func (p *phone) queue(day string) {
	p.t.Helper()
	require.NoError(p.t, p.Store.QueuePush(p.t.Context(), models.MailCause{Site: p.site, Kind: models.MailSheet, About: day, At: p.now, Until: p.now.Add(time.Hour)}))
}

func (p *phone) publish() {
	p.t.Helper()
	p.batches = []models.BatchTask{batch(p.now.Add(14*time.Hour), 5200)}
	p.do(models.Job{Kind: models.JobPublish, Site: p.site, Key: "2026-07-09"})
}

func TestTheEveningsSheetIsShownOnce(t *testing.T) {
	t.Parallel()
	p := newPhone(t, "2026-07-08T18:00:00+02:00", "en")
	p.publish()
	n, r := p.shown()
	require.Contains(t, n.Title, "Prep sheet for Thursday 9 July")
	require.Contains(t, n.Body, "tasks, the first at")
	require.Equal(t, "kitchen", n.Page)
	require.Equal(t, "en", n.Lang)
	require.Equal(t, p.log()[0].ID, n.ID)
	require.Equal(t, n.ID, r.Header.Get("Topic"))
	require.Equal(t, "normal", r.Header.Get("Urgency"))
	key, claims := r.Claims(t)
	public, _, err := p.Store.PushKey(t.Context(), p.now)
	require.NoError(t, err)
	require.Equal(t, public, key)
	require.Equal(t, "https://cafe.example", claims["sub"])
	require.Equal(t, models.DeliveryDelivered, p.log()[0].State)
	d, err := p.Store.PushDevice(t.Context(), p.device.ID)
	require.NoError(t, err)
	require.NotNil(t, d.SentAt)

	p.now = p.now.Add(time.Hour)
	p.publish()
	p.silent()
}

func TestAWarningIsShownOnceAndAgainWhenItIsUrgent(t *testing.T) {
	t.Parallel()
	p := newPhone(t, "2026-07-08T18:00:00+02:00", "de")
	p.publish()
	p.shown()
	p.at("2026-07-09 08:00")
	count := 20000.0
	require.NoError(t, p.Store.AddStockCount(t.Context(), p.site, models.StockCount{CountedAt: p.now, IceG: &count}, p.now))
	today := short(50, 6000, p.now.Add(7*time.Hour))
	today.Grade = models.GradeActToday
	p.warnings = []models.Warning{today}
	p.watchAt("2026-07-09 08:10")
	n, r := p.shown()
	require.True(t, strings.HasPrefix(n.Title, "Heute handeln · "), n.Title)
	require.NotEmpty(t, n.Body)
	require.Equal(t, "weekend", n.Page)
	require.Equal(t, "normal", r.Header.Get("Urgency"))
	p.watchAt("2026-07-09 08:20")
	p.silent()

	// Kitchen staff are led to the page that they may open.
	p.warnings[0].Grade = models.GradeActNow
	p.person.Scopes = []string{models.ScopeKitchen}
	_, err := p.Store.ChangePerson(t.Context(), p.person)
	require.NoError(t, err)
	p.watchAt("2026-07-09 08:30")
	n, r = p.shown()
	require.True(t, strings.HasPrefix(n.Title, "Sofort handeln · "), n.Title)
	require.Equal(t, "kitchen", n.Page)
	require.Equal(t, "high", r.Header.Get("Urgency"))
	p.watchAt("2026-07-09 08:40")
	p.silent()

	p.warnings = append(p.warnings, short(60, 9000, p.now.Add(31*time.Hour)))
	p.warnings[1].Grade = models.GradeActNow
	p.watchAt("2026-07-09 08:50")
	p.warnings = p.warnings[:1]
	p.watchAt("2026-07-09 09:00")
	p.silent()
	require.Equal(t, "not sent: the warning is over", p.log()[0].Answer)
}

func TestAFailedNotificationIsRepeatedUnderTheSameID(t *testing.T) {
	t.Parallel()
	p := newPhone(t, "2026-07-08T18:00:00+02:00", "en")
	p.publish()
	p.service.Answer(func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "busy", http.StatusServiceUnavailable) })
	first, _ := p.shown()
	x := p.log()[0]
	require.Equal(t, models.DeliveryWaiting, x.State)
	require.Equal(t, 1, x.Attempts)
	require.Equal(t, http.StatusServiceUnavailable, x.Status)
	require.Equal(t, "busy\n", x.Answer)
	require.Equal(t, p.now.Add(models.DeliveryWaits[0]).UTC(), *x.NextAt)

	p.service.Answer(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Retry-After", "3600")
		w.WriteHeader(http.StatusTooManyRequests)
	})
	p.shown()
	require.Equal(t, p.now.Add(time.Hour).UTC(), *p.log()[0].NextAt, "as the push service wants")

	p.service.Answer(func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) })
	p.shown() // it has it, but we never hear so
	require.Equal(t, models.DeliveryWaiting, p.log()[0].State)
	p.service.Answer(nil)
	again, _ := p.shown()
	require.Equal(t, first, again, "the same tag, so it replaces the one before")
	require.Equal(t, models.DeliveryDelivered, p.log()[0].State)
	p.silent()
}

func TestAnEndedSubscriptionIsRemoved(t *testing.T) {
	t.Parallel()
	for _, status := range []int{http.StatusNotFound, http.StatusGone} {
		p := newPhone(t, "2026-07-08T18:00:00+02:00", "en")
		p.publish()
		p.service.Answer(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(status) })
		p.shown()
		_, err := p.Store.PushDevice(t.Context(), p.device.ID)
		require.Equal(t, models.CodeNotFound, models.CodeOf(err))
		require.Empty(t, p.log())
		p.queue("2026-07-09")
		require.Empty(t, p.log())
	}
}

func TestARefusalIsNotRepeated(t *testing.T) {
	t.Parallel()
	p := newPhone(t, "2026-07-08T18:00:00+02:00", "en")
	for _, status := range []int{http.StatusBadRequest, http.StatusForbidden, http.StatusRequestEntityTooLarge} {
		p.publish()
		p.service.Answer(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(status) })
		p.shown()
		x := p.log()[0]
		require.Equal(t, models.DeliveryFailed, x.State)
		require.Equal(t, status, x.Status)
		require.Nil(t, x.NextAt)
		p.silent()
		require.NoError(t, p.Store.RemovePushDevice(t.Context(), p.device.ID))
		p.turnOn()
	}
}

func TestOnlyWantedNotificationsAreSent(t *testing.T) {
	t.Parallel()
	p := newPhone(t, "2026-07-08T18:00:00+02:00", "en")
	choose := func(kinds ...string) {
		t.Helper()
		_, err := p.Store.PutPushKinds(t.Context(), p.person.ID, []models.MailSubscription{{Site: p.site, Kinds: kinds}})
		require.NoError(t, err)
	}
	refused := func(reason string) {
		t.Helper()
		p.silent()
		require.Equal(t, models.DeliveryFailed, p.log()[0].State)
		require.Equal(t, "not sent: "+reason, p.log()[0].Answer)
		p.now = p.now.Add(time.Minute)
	}
	p.queue("2026-07-20")
	refused("the sheet was removed")
	p.publish()
	choose(models.MailActNow)
	refused("no longer wanted")
	p.queue("2026-07-10")
	require.Len(t, p.log(), 2, "nothing is queued that nobody wants")
	choose(models.PushKinds...)
	p.queue("2026-07-21")
	p.now = p.now.Add(2 * time.Hour)
	refused("too late")
	p.queue("2026-07-22")
	p.person.Scopes = []string{models.ScopeSales}
	_, err := p.Store.ChangePerson(t.Context(), p.person)
	require.NoError(t, err)
	refused("no longer wanted")

	p.person.Scopes = []string{models.ScopeManage}
	_, err = p.Store.ChangePerson(t.Context(), p.person)
	require.NoError(t, err)
	p.queue("2026-07-23")
	id := p.log()[0].ID
	require.NoError(t, p.Store.RemovePerson(t.Context(), p.person.ID, p.now))
	p.do(models.Job{Kind: models.JobPush, Key: id + "/0"})
	require.Empty(t, p.service.Received())
}

// A device could name any address: only public ones over HTTPS are reached.
func TestNotificationsGoToPublicAddressesOnly(t *testing.T) {
	t.Parallel()
	p := newPhone(t, "2026-07-08T18:00:00+02:00", "en")
	p.PrivateWebhooks, p.hooks = false, outside.Client(false, deliveryTimeout)
	p.publish()
	p.silent()
	require.Equal(t, outside.ErrNotHTTPS.Error(), p.log()[0].Answer)
	require.NoError(t, p.Store.RemovePushDevice(t.Context(), p.device.ID))
	_, _, err := p.Store.AddPushDevice(t.Context(), models.PushDevice{Person: p.person.ID, Site: p.site, Endpoint: strings.Replace(p.service.URL, "http:", "https:", 1), Keys: p.browser.Keys(), CreatedAt: p.now})
	require.NoError(t, err)
	p.publish()
	p.silent()
	require.Equal(t, outside.ErrNotPublic.Error(), p.log()[0].Answer)
	require.Equal(t, models.DeliveryWaiting, p.log()[0].State)
}
