package jobs

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
)

// The example of the Standard Webhooks specification (from memory).
func TestSignaturesAreThoseOfTheSpecification(t *testing.T) {
	t.Parallel()
	got, err := sign("whsec_plJ3nmyCDGBKInavdOK15jsl", "msg_loFOjxBNrRLzqYUf", "1731705121", []byte(`{"event_type":"ping","data":{"success":true}}`))
	require.NoError(t, err)
	require.Equal(t, "v1,rAvfW3dJ/X/qxhsaXPOyyCGmRKsaKWcsNccKXlIktD0=", got)
}

// told is a program that is told, and what it answers.
type told struct {
	*httptest.Server
	mu     sync.Mutex
	got    []*http.Request
	bodies []string
	status int
	header http.Header
	answer string
	came   chan struct{}
}

func listen(t *testing.T) *told {
	t.Helper()
	w := &told{status: 204, header: http.Header{}, came: make(chan struct{}, 100)}
	w.Server = httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		w.mu.Lock()
		defer w.mu.Unlock()
		w.got, w.bodies = append(w.got, r), append(w.bodies, string(body))
		for k, v := range w.header {
			rw.Header()[k] = v
		}
		rw.WriteHeader(w.status)
		_, _ = io.WriteString(rw, w.answer)
		w.came <- struct{}{}
	}))
	t.Cleanup(w.Close)
	return w
}

// teller is a shop with a real store and queue whose webhook is told of marks.
type teller struct {
	t *testing.T
	Config
	st      *store.Store
	now     time.Time
	site    string
	webhook models.Webhook
	secret  string
}

func newTeller(t *testing.T, address string, private bool) *teller {
	t.Helper()
	x := &teller{t: t, now: time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC)}
	st, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"), store.WithPoll(5*time.Millisecond))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	story, err := demo.At(x.now)
	require.NoError(t, err)
	_, _, err = st.PutSetup(t.Context(), story.Setup, "", x.now)
	require.NoError(t, err)
	x.st, x.site = st, story.Setup.Site.Code
	x.Config = Config{Store: st, Worker: st, Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return x.now }, PrivateWebhooks: private}.withDefaults()
	x.webhook, x.secret, err = st.AddWebhook(t.Context(), models.Webhook{URL: address, Events: []string{models.HookMarked}, Site: x.site}, x.now)
	require.NoError(t, err)
	return x
}

func (x *teller) mark() {
	x.t.Helper()
	_, err := x.st.AddEvent(x.t.Context(), models.LiveEvent{Site: x.site, Kind: "mark", At: x.now, Data: json.RawMessage(`{"task":"a","state":"made"}`)})
	require.NoError(x.t, err)
}

func (x *teller) deliveries() []models.Delivery {
	x.t.Helper()
	rows, err := x.st.Deliveries(x.t.Context(), x.webhook.ID, models.Page{})
	require.NoError(x.t, err)
	return rows.Rows
}

// attempt makes the next attempt of the one delivery and returns how it stands then.
func (x *teller) attempt() models.Delivery {
	x.t.Helper()
	effect, err := x.deliver(x.t.Context(), models.Job{Kind: models.JobDeliver, Key: x.deliveries()[0].ID + "/1/0"})
	require.NoError(x.t, err)
	if effect != nil {
		require.NoError(x.t, x.st.Within(x.t.Context(), effect))
	}
	return x.deliveries()[0]
}

func TestWhatHappensIsToldOnceSignedThroughTheQueue(t *testing.T) {
	t.Parallel()
	w := listen(t)
	x := newTeller(t, w.URL+"/hook?x=1", true)
	_, err := x.st.AddEvent(t.Context(), models.LiveEvent{Site: x.site, Kind: "stock", At: x.now})
	require.NoError(t, err)
	x.mark()
	require.Len(t, x.deliveries(), 1, "only of what was asked for")

	ctx, stop := context.WithCancel(context.Background())
	ran := make(chan error, 1)
	go func() { ran <- x.st.Run(ctx, x.work()) }()
	<-w.came
	stop()
	require.NoError(t, <-ran)
	require.Len(t, w.got, 1)
	r, d := w.got[0], x.deliveries()[0]
	require.Equal(t, models.DeliveryDelivered, d.State)
	require.Equal(t, 204, d.Status)
	require.Equal(t, "/hook?x=1", r.URL.RequestURI())
	require.Equal(t, d.ID, r.Header.Get("Webhook-Id"))
	want, err := sign(x.secret, d.ID, r.Header.Get("Webhook-Timestamp"), []byte(w.bodies[0]))
	require.NoError(t, err)
	require.Equal(t, want, r.Header.Get("Webhook-Signature"))
	require.JSONEq(t, `{"type":"task.marked","timestamp":"2026-07-10T12:00:00Z","site":"`+x.site+`","data":{"task":"a","state":"made"}}`, w.bodies[0])
}

func TestAFailureIsTriedAgainLaterAndLaterAndCanBeReplayed(t *testing.T) {
	t.Parallel()
	w := listen(t)
	w.status, w.answer = 503, strings.Repeat("busy ", 1000)
	x := newTeller(t, w.URL, true)
	x.mark()
	for i, wait := range models.DeliveryWaits {
		d := x.attempt()
		require.Equal(t, models.DeliveryWaiting, d.State)
		require.Equal(t, i+1, d.Attempts)
		require.Equal(t, x.now.Add(wait), *d.NextAt)
		require.Equal(t, 503, d.Status)
		require.Len(t, d.Answer, answerKept, "only the beginning is kept")
		x.now = *d.NextAt
	}
	d := x.attempt()
	require.Equal(t, models.DeliveryFailed, d.State)
	require.Nil(t, d.NextAt)
	sent := len(w.got)
	require.Equal(t, models.DeliveryFailed, x.attempt().State)
	require.Len(t, w.got, sent, "what was given up is not sent by itself")

	_, err := x.st.Replay(t.Context(), d.ID, x.now)
	require.NoError(t, err)
	w.status = 200
	again := x.attempt()
	require.Equal(t, models.DeliveryDelivered, again.State)
	require.Equal(t, 1, again.Attempts)
	require.Equal(t, w.got[0].Header.Get("Webhook-Id"), w.got[sent].Header.Get("Webhook-Id"))
	require.Equal(t, w.bodies[0], w.bodies[sent])
	require.NotEqual(t, w.got[0].Header.Get("Webhook-Signature"), w.got[sent].Header.Get("Webhook-Signature"), "signed at another time")
}

func TestWhoIsGoneIsToldNoMore(t *testing.T) {
	t.Parallel()
	w := listen(t)
	w.status = http.StatusGone
	x := newTeller(t, w.URL, true)
	x.mark()
	require.Equal(t, models.DeliveryFailed, x.attempt().State)
	require.NoError(t, x.st.RemoveWebhook(t.Context(), x.webhook.ID))
	effect, err := x.deliver(t.Context(), models.Job{Key: "msg_removed/1/0"})
	require.NoError(t, err)
	require.Nil(t, effect)
}

func TestRedirectsAreNotFollowed(t *testing.T) {
	t.Parallel()
	inside, w := listen(t), listen(t)
	w.status = http.StatusTemporaryRedirect
	w.header.Set("Location", inside.URL)
	x := newTeller(t, w.URL, true)
	x.mark()
	d := x.attempt()
	require.Equal(t, 307, d.Status)
	require.Equal(t, models.DeliveryWaiting, d.State)
	require.Empty(t, inside.got)
}

// The rule is held against the address that is dialled, whatever name it hides behind.
func TestPrivateAddressesAreRefusedWhereTheyAreDialled(t *testing.T) {
	t.Parallel()
	w := listen(t)
	_, port, err := net.SplitHostPort(w.Listener.Addr().String())
	require.NoError(t, err)
	for _, host := range []string{"127.0.0.1", "localhost", "[::ffff:127.0.0.1]"} {
		x := newTeller(t, "https://"+host+":"+port+"/", false)
		x.mark()
		d := x.attempt()
		require.Zero(t, d.Status, host)
		require.Equal(t, errNotPublic.Error(), d.Answer, host)
	}
	x := newTeller(t, w.URL, false)
	x.mark()
	require.Equal(t, errNotHTTPS.Error(), x.attempt().Answer)
	require.Empty(t, w.got)
}
