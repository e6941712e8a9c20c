package models

import (
	"context"
	"encoding/json"
	"net"
	"net/netip"
	"time"
)

// Webhook is another program's address that is told what happens. Its secret signs what is sent and is shown once.
type Webhook struct {
	ID        string    `json:"id"`
	URL       string    `json:"url"`
	Events    []string  `json:"events"`
	Site      string    `json:"site"` // empty: all sites
	CreatedAt time.Time `json:"created_at"`
	CreatedBy string    `json:"created_by"`
}

// Events that webhooks are told of.
const (
	HookPublished = "plan.published" // a prep sheet was published; data: that of the live event "sheet"
	HookWarning   = "warning.raised" // warnings were opened; data: the warnings
	HookMarked    = "task.marked"    // somebody said how a task stands; data: that of the live event "mark"
)

// HookBody is what is sent, after the Standard Webhooks specification.
type HookBody struct {
	Type      string          `json:"type"`
	Timestamp time.Time       `json:"timestamp"`
	Site      string          `json:"site"`
	Data      json.RawMessage `json:"data"`
}

// States of a Delivery.
const (
	DeliveryWaiting   = "waiting" // not tried yet, or to be tried again at next_at
	DeliveryDelivered = "delivered"
	DeliveryFailed    = "failed" // given up; it can be replayed
)

// Delivery is one thing told to one webhook. Its id is the webhook-id of every attempt.
type Delivery struct {
	ID        string          `json:"id"`
	Webhook   string          `json:"webhook"`
	Event     string          `json:"event"`
	State     string          `json:"state"`
	Attempts  int             `json:"attempts"`
	CreatedAt time.Time       `json:"created_at"`
	TriedAt   *time.Time      `json:"tried_at"`
	NextAt    *time.Time      `json:"next_at"`
	Status    int             `json:"status"` // of the last answer; 0: there was none
	Answer    string          `json:"answer"` // its beginning, or why there was none
	Body      json.RawMessage `json:"body"`
}

// DeliveryWaits is how long after each failed attempt the next one is made; after the last of them a delivery has failed.
var DeliveryWaits = []time.Duration{5 * time.Second, 5 * time.Minute, 30 * time.Minute, 2 * time.Hour, 5 * time.Hour, 10 * time.Hour, 14 * time.Hour}

// WebhookStore keeps webhooks and what was told to them. AddEvent makes the deliveries of an event and queues them in its own
// transaction: what is told has happened, and what has happened is told.
type WebhookStore interface {
	AddWebhook(ctx context.Context, w Webhook, at time.Time) (kept Webhook, secret string, err error)
	Webhook(ctx context.Context, id string) (w Webhook, secret string, err error)
	Webhooks(ctx context.Context) ([]Webhook, error) // oldest first
	RemoveWebhook(ctx context.Context, id string) error
	Deliveries(ctx context.Context, webhook string, p Page) (Rows[Delivery], error) // newest first
	Delivery(ctx context.Context, id string) (Delivery, error)
	// Tried keeps the outcome of an attempt; a next attempt is queued where d.NextAt is set.
	Tried(ctx context.Context, d Delivery) error
	// Replay queues a delivery anew, whatever became of it. CodeConflict while it waits.
	Replay(ctx context.Context, id string, at time.Time) (Delivery, error)
}

// notPublic are ranges that Go's own names for kinds of address leave out (IANA's registries of special-purpose addresses, from
// memory): this network, shared and carrier space, protocol assignments, documentation, benchmarking, reserved; and addresses of
// version 6 that carry one of version 4 inside.
var notPublic = func() (list []netip.Prefix) {
	for _, s := range []string{"0.0.0.0/8", "100.64.0.0/10", "192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "198.18.0.0/15", "198.51.100.0/24",
		"203.0.113.0/24", "240.0.0.0/4", "64:ff9b::/96", "64:ff9b:1::/48", "100::/64", "2001::/23", "2001:db8::/32", "2002::/16", "3fff::/20", "5f00::/16", "fec0::/10"} {
		list = append(list, netip.MustParsePrefix(s))
	}
	return list
}()

// PublicAddress reports whether an address is one of the public internet: not of this machine, a private network, a link, or a
// range set aside.
func PublicAddress(ip net.IP) bool {
	a, ok := netip.AddrFromSlice(ip)
	if !ok {
		return false
	}
	a = a.Unmap()
	if !a.IsGlobalUnicast() || a.IsPrivate() || a.IsLoopback() || a.IsLinkLocalUnicast() {
		return false
	}
	for _, p := range notPublic {
		if p.Contains(a) {
			return false
		}
	}
	return true
}
