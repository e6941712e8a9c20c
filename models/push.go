package models

import (
	"context"
	"crypto/ecdh"
	"encoding/base64"
	"slices"
	"strings"
	"time"
)

// PushKinds are the kinds of message that a person can get as notifications on their devices.
var PushKinds = []string{MailSheet, MailActNow, MailActToday}

// PushDevice is a browser that shows notifications of a site to a person: a push subscription (RFC 8030).
type PushDevice struct {
	ID        string     `json:"id"`
	Person    string     `json:"person"`
	Site      string     `json:"site"`
	Browser   string     `json:"browser"` // user agent
	CreatedAt time.Time  `json:"created_at"`
	SentAt    *time.Time `json:"sent_at"` // when its push service last took a notification; null: never

	Endpoint string   `json:"-"` // whoever knows it and the service's key can send to the device
	Keys     PushKeys `json:"-"`
	Origin   string   `json:"-"` // of the page on which it was turned on: who the service is, for the push service
}

// PushKeys are the keys of a subscription that notifications are encrypted for (RFC 8291), in base64url.
type PushKeys struct {
	P256dh string `json:"p256dh" validate:"min=1,max=200"` // the browser's public key: a point on P-256, 65 bytes
	Auth   string `json:"auth" validate:"min=1,max=100"`   // a secret of 16 bytes
}

// Check returns CodeInvalid for keys that nothing can be encrypted for.
func (k PushKeys) Check(pointer string) error {
	point, err := pushBytes(k.P256dh)
	if err == nil {
		_, err = ecdh.P256().NewPublicKey(point)
	}
	if err != nil {
		return Invalid(pointer+"/p256dh", "the key p256dh of the browser's subscription: an uncompressed point on P-256 in base64url", "this is not such a key")
	}
	if secret, err := pushBytes(k.Auth); err != nil || len(secret) != 16 {
		return Invalid(pointer+"/auth", "the key auth of the browser's subscription: 16 bytes in base64url", "this is not such a key")
	}
	return nil
}

func pushBytes(text string) ([]byte, error) {
	return base64.RawURLEncoding.DecodeString(strings.TrimRight(text, "="))
}

// PushSettings are a person's devices and what they show.
type PushSettings struct {
	Person        string             `json:"person"`
	Subscriptions []MailSubscription `json:"subscriptions"` // by site; a site that is not listed: all kinds
	Devices       []PushDevice       `json:"devices"`       // oldest first
}

// Kinds returns what the person's devices show of a site.
func (s PushSettings) Kinds(site string) []string {
	for _, x := range s.Subscriptions {
		if x.Site == site {
			return x.Kinds
		}
	}
	return PushKinds
}

// SortedPushKinds returns the distinct kinds of a list in the order of PushKinds; what is not among those is left out.
func SortedPushKinds(list []string) []string {
	return slices.DeleteFunc(slices.Clone(PushKinds), func(k string) bool { return !slices.Contains(list, k) })
}

// Push is a notification to a device. Its ID is the tag of the notification, so that a repeated one replaces itself.
type Push struct {
	ID        string     `json:"id"`
	Device    string     `json:"device"`
	Person    string     `json:"person"`
	Site      string     `json:"site"`
	Kind      string     `json:"kind"`
	State     string     `json:"state"` // waiting, delivered: the push service took it, failed
	Attempts  int        `json:"attempts"`
	CreatedAt time.Time  `json:"created_at"`
	TriedAt   *time.Time `json:"tried_at"`
	NextAt    *time.Time `json:"next_at"`
	Until     time.Time  `json:"until"`  // when it is no longer news, and not sent
	Status    int        `json:"status"` // HTTP status of the push service's last response; 0: no response
	Answer    string     `json:"answer"` // beginning of the response, or the reason for not sending

	// About is what it reports, as of a Mail: a sheet's date or the IDs of warnings.
	About string `json:"-"`
}

// Limits of notifications. Beyond the second they are logged as not sent.
const (
	PushDevicesPerPerson = 10 // at one site
	WarningPushesPerHour = 6  // to one device
)

// PushStore stores the service's push key, devices and notifications. As with e-mail, queueing a notification queues its first attempt in the
// same transaction.
type PushStore interface {
	// PushKey returns the key pair by which push services know this service (RFC 8292): the public key as a point, the private one as a
	// number, both in base64url. It is made once, and kept encrypted.
	PushKey(ctx context.Context, at time.Time) (public, private string, err error)
	// AddPushDevice stores a device. A known endpoint at the same site keeps its ID and becomes this person's. CodeConflict beyond
	// PushDevicesPerPerson.
	AddPushDevice(ctx context.Context, d PushDevice) (stored PushDevice, added bool, err error)
	PushDevice(ctx context.Context, id string) (PushDevice, error)
	// RemovePushDevice removes a device with its notifications; attempts already queued do nothing.
	RemovePushDevice(ctx context.Context, id string) error
	PushSettings(ctx context.Context, person string) (PushSettings, error)
	// PutPushKinds replaces what a person gets from the sites in list; other sites stay as they are.
	PutPushKinds(ctx context.Context, person string, list []MailSubscription) (PushSettings, error)

	// QueuePush queues a notification to every device that shows c.Kind of c.Site, once for each c.About.
	QueuePush(ctx context.Context, c MailCause) error
	// QueueWarningPush queues a notification to every device that shows warnings of these grades: about each warning once, and again only
	// when it becomes more urgent.
	QueueWarningPush(ctx context.Context, site string, warnings []OpenWarning, at time.Time) error
	// Push returns a notification by its ID with its device.
	Push(ctx context.Context, id string) (Push, PushDevice, error)
	// PushTried stores the outcome of an attempt and, if p.NextAt is set, queues the next one.
	PushTried(ctx context.Context, p Push) error
	// PushLog returns a person's notifications, newest first.
	PushLog(ctx context.Context, person string, p Page) (Rows[Push], error)
}
