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
	"hotday/jobs/outside"
	"hotday/models"
	"hotday/models/store"
)

// The example of the Standard Webhooks specification (from memory).
func TestSignature(t *testing.T) {
	t.Parallel()
	got, err := sign("whsec_plJ3nmyCDGBKInavdOK15jsl", "msg_loFOjxBNrRLzqYUf", "1731705121", []byte(`{"event_type":"ping","data":{"success":true}}`))
	require.NoError(t, err)
	require.Equal(t, "v1,rAvfW3dJ/X/qxhsaXPOyyCGmRKsaKWcsNccKXlIktD0=", got)
}

// receiver is a webhook receiver with a configurable response.
type receiver struct {
	*httptest.Server
	mu       sync.Mutex
	got      []*http.Request
	bodies   []string
	status   int
	header   http.Header
	response string
	received chan struct{}
}

func newReceiver(t *testing.T) *receiver {
	t.Helper()
	w := &receiver{status: 204, header: http.Header{}, received: make(chan struct{}, 100)}
	w.Server = httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		w.mu.Lock()
		defer w.mu.Unlock()
		w.got, w.bodies = append(w.got, r), append(w.bodies, string(body))
		for k, v := range w.header {
			rw.Header()[k] = v
		}
		rw.WriteHeader(w.status)
		_, _ = io.WriteString(rw, w.response)
		w.received <- struct{}{}
	}))
	t.Cleanup(w.Close)
	return w
}

// sender is a shop with a real store and queue and a webhook for marks.
type sender struct {
	t *testing.T
	Config
	st      *store.Store
	now     time.Time
	site    string
	webhook models.Webhook
	secret  string
}

func newSender(t *testing.T, address string, private bool) *sender {
	t.Helper()
	x := &sender{t: t, now: time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC)}
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

func (x *sender) mark() {
	x.t.Helper()
	_, err := x.st.AddEvent(x.t.Context(), models.LiveEvent{Site: x.site, Kind: "mark", At: x.now, Data: json.RawMessage(`{"task":"a","state":"made"}`)})
	require.NoError(x.t, err)
}

func (x *sender) deliveries() []models.Delivery {
	x.t.Helper()
	rows, err := x.st.Deliveries(x.t.Context(), x.webhook.ID, models.Page{})
	require.NoError(x.t, err)
	return rows.Rows
}

// attempt makes the next attempt at the latest delivery and returns the delivery.
func (x *sender) attempt() models.Delivery {
	x.t.Helper()
	effect, err := x.deliver(x.t.Context(), models.Job{Kind: models.JobDeliver, Key: x.deliveries()[0].ID + "/1/0"})
	require.NoError(x.t, err)
	if effect != nil {
		require.NoError(x.t, x.st.Within(x.t.Context(), effect))
	}
	return x.deliveries()[0]
}

func TestEventIsDeliveredOnceAndSigned(t *testing.T) {
	t.Parallel()
	w := newReceiver(t)
	x := newSender(t, w.URL+"/hook?x=1", true)
	_, err := x.st.AddEvent(t.Context(), models.LiveEvent{Site: x.site, Kind: "stock", At: x.now})
	require.NoError(t, err)
	x.mark()
	require.Len(t, x.deliveries(), 1, "only of the events it subscribes to")

	ctx, stop := context.WithCancel(context.Background())
	ran := make(chan error, 1)
	go func() { ran <- x.st.Run(ctx, x.work()) }()
	<-w.received
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

func TestFailedDeliveryIsRetriedWithBackoffAndCanBeReplayed(t *testing.T) {
	t.Parallel()
	w := newReceiver(t)
	w.status, w.response = 503, strings.Repeat("busy ", 1000)
	x := newSender(t, w.URL, true)
	x.mark()
	for i, wait := range models.DeliveryWaits {
		d := x.attempt()
		require.Equal(t, models.DeliveryWaiting, d.State)
		require.Equal(t, i+1, d.Attempts)
		require.Equal(t, x.now.Add(wait), *d.NextAt)
		require.Equal(t, 503, d.Status)
		require.Len(t, d.Answer, maxResponse, "only the beginning is stored")
		x.now = *d.NextAt
	}
	d := x.attempt()
	require.Equal(t, models.DeliveryFailed, d.State)
	require.Nil(t, d.NextAt)
	sent := len(w.got)
	require.Equal(t, models.DeliveryFailed, x.attempt().State)
	require.Len(t, w.got, sent, "a failed delivery is not sent again unless replayed")

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

func TestGoneEndsDelivery(t *testing.T) {
	t.Parallel()
	w := newReceiver(t)
	w.status = http.StatusGone
	x := newSender(t, w.URL, true)
	x.mark()
	require.Equal(t, models.DeliveryFailed, x.attempt().State)
	require.NoError(t, x.st.RemoveWebhook(t.Context(), x.webhook.ID))
	effect, err := x.deliver(t.Context(), models.Job{Key: "msg_removed/1/0"})
	require.NoError(t, err)
	require.Nil(t, effect)
}

func TestRedirectsAreNotFollowed(t *testing.T) {
	t.Parallel()
	inside, w := newReceiver(t), newReceiver(t)
	w.status = http.StatusTemporaryRedirect
	w.header.Set("Location", inside.URL)
	x := newSender(t, w.URL, true)
	x.mark()
	d := x.attempt()
	require.Equal(t, 307, d.Status)
	require.Equal(t, models.DeliveryWaiting, d.State)
	require.Empty(t, inside.got)
}

func TestOnlyHostsOfTheOperatorsListAreSentTo(t *testing.T) {
	t.Parallel()
	w := newReceiver(t)
	x := newSender(t, w.URL, true)
	x.OutsideHosts = []string{"hooks.example.com"} // given after the webhook was added
	x.mark()
	d := x.attempt()
	require.Zero(t, d.Status)
	require.Equal(t, outside.ErrHost.Error(), d.Answer)
	require.Empty(t, w.got)
}

// The check is made on the dialled address, whatever its host name.
func TestPrivateAddressesAreRefusedWhenDialling(t *testing.T) {
	t.Parallel()
	w := newReceiver(t)
	_, port, err := net.SplitHostPort(w.Listener.Addr().String())
	require.NoError(t, err)
	for _, host := range []string{"127.0.0.1", "localhost", "[::ffff:127.0.0.1]"} {
		x := newSender(t, "https://"+host+":"+port+"/", false)
		x.mark()
		d := x.attempt()
		require.Zero(t, d.Status, host)
		require.Equal(t, outside.ErrNotPublic.Error(), d.Answer, host)
	}
	x := newSender(t, w.URL, false)
	x.mark()
	require.Equal(t, outside.ErrNotHTTPS.Error(), x.attempt().Answer)
	require.Empty(t, w.got)
}
