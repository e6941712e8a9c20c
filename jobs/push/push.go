// Package push writes notifications and hands them to the push services of browsers: encrypted for the browser (RFC 8291), signed with
// the service's key (RFC 8292), by RFC 8030.
package push

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/SherClockHolmes/webpush-go"

	"hotday/models"
)

// Key is the key pair by which push services know this service, as models.PushStore has it.
type Key struct{ Public, Private string }

// Message is one attempt at a notification. Its ID is also its topic: a push service that still holds an earlier attempt replaces it.
type Message struct {
	ID      string
	Note    Note
	Key     Key
	TTL     time.Duration // for which a push service keeps it for a device that is not reachable
	Urgent  bool          // wakes a device that saves its battery
	Subject string        // who the service is, for whoever runs the push service: an https address
}

// Answer is the response of a push service.
type Answer struct {
	Status int    // 0: no response
	Body   string // its beginning
	// RetryAfter is how long the push service wants no other attempt.
	RetryAfter time.Duration
}

// recordSize is that of an encrypted message. Each is padded to it, so that its length says nothing; push services take at least 4,096
// (RFC 8030, section 7.2), and notes fit into half of that.
const recordSize = 2048

// ErrNote is the error of a note that does not fit, or of keys that nothing can be encrypted for: no other attempt will succeed.
var ErrNote = errors.New("the notification cannot be encrypted for this device")

// Send makes one attempt. An error means that there was no response; the body of the answer has at most most bytes.
func Send(ctx context.Context, client *http.Client, d models.PushDevice, m Message, most int64) (Answer, error) {
	body, err := m.Note.encode()
	if err != nil {
		return Answer{}, err
	}
	if err := d.Keys.Check(""); err != nil {
		return Answer{}, ErrNote
	}
	urgency := webpush.UrgencyNormal
	if m.Urgent {
		urgency = webpush.UrgencyHigh
	}
	resp, err := webpush.SendNotificationWithContext(ctx, body, &webpush.Subscription{Endpoint: d.Endpoint, Keys: webpush.Keys{P256dh: d.Keys.P256dh, Auth: d.Keys.Auth}},
		&webpush.Options{HTTPClient: client, RecordSize: recordSize, Subscriber: m.Subject, Topic: m.ID, TTL: int(m.TTL.Seconds()), Urgency: urgency,
			VAPIDPublicKey: m.Key.Public, VAPIDPrivateKey: m.Key.Private})
	if errors.Is(err, webpush.ErrMaxPadExceeded) {
		return Answer{}, ErrNote
	}
	if err != nil {
		return Answer{}, err
	}
	defer resp.Body.Close()
	a := Answer{Status: resp.StatusCode}
	if seconds, err := strconv.Atoi(resp.Header.Get("Retry-After")); err == nil && seconds > 0 {
		a.RetryAfter = min(time.Duration(seconds)*time.Second, 24*time.Hour)
	}
	text, err := io.ReadAll(io.LimitReader(resp.Body, most))
	a.Body = string(text)
	if err != nil && a.Body == "" {
		a.Body = "the response was cut off"
	}
	return a, nil
}

// Subject is who the service is, from the address of its pages. Push services want an https address or an e-mail address.
func Subject(origin string) string {
	if u, err := url.Parse(origin); err == nil && u.Host != "" {
		return "https://" + u.Host
	}
	return "https://localhost"
}
