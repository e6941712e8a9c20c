package models

import (
	"context"
	"encoding/json"
	"net"
	"net/netip"
	"slices"
	"strings"
	"time"
)

// Webhook is another program's address that receives events. Its secret signs the deliveries and is shown only once.
type Webhook struct {
	ID        string    `json:"id"`
	URL       string    `json:"url"`
	Events    []string  `json:"events"`
	Site      string    `json:"site"` // empty: all sites
	CreatedAt time.Time `json:"created_at"`
	CreatedBy string    `json:"created_by"`
}

// Webhook events.
const (
	HookPublished = "plan.published" // a prep sheet was published; data: a SheetPublished
	HookWarning   = "warning.raised" // warnings were opened; data: a WarningsRaised
	HookMarked    = "task.marked"    // a task was marked; data: a TaskMarked
	HookOffSale   = "drink.off_sale" // a drink is to be taken off sale, for the till; data: a SaleChange
	HookOnSale    = "drink.on_sale"  // a drink is back on sale; data: a SaleChange
)

// HookEvents are all webhook events.
var HookEvents = []string{HookPublished, HookWarning, HookMarked, HookOffSale, HookOnSale}

// SheetPublished is the data of plan.published and of the live event "sheet".
type SheetPublished struct {
	Date     Date     `json:"date"`     // service day of the prep sheet
	Revision int      `json:"revision"` // of the plan it came from
	Changes  []string `json:"changes"`  // since the sheet before, in words; null: none
}

// WarningsRaised is the data of warning.raised.
type WarningsRaised struct {
	Warnings []OpenWarning `json:"warnings"`
}

// TaskMarked is the data of task.marked and of the live event "mark".
type TaskMarked struct {
	Task     string `json:"task"` // ID of the task
	Date     Date   `json:"date"` // service day of its prep sheet
	State    string `json:"state"`
	Replaced bool   `json:"replaced"` // a newer sheet no longer has the task
}

// SaleChange tells the till that a drink goes off sale, from From to To, or is back on sale from From.
type SaleChange struct {
	Drink string     `json:"drink"` // its code
	Items []TillItem `json:"items"` // the till items mapped to the drink
	From  time.Time  `json:"from"`
	To    *time.Time `json:"to"` // null: until further notice
}

// TillItem is an item of a till.
type TillItem struct {
	Source string `json:"source"`
	Item   string `json:"item"`
}

// SaleChanges is the part of a live event "demand" about drinks that go off sale or are back.
type SaleChanges struct {
	Off []SaleChange `json:"off,omitempty"`
	On  []SaleChange `json:"on,omitempty"`
}

// HookBody is the body of a delivery, by the Standard Webhooks specification.
type HookBody struct {
	Type      string          `json:"type"`
	Timestamp time.Time       `json:"timestamp"`
	Site      string          `json:"site"`
	Data      json.RawMessage `json:"data" schema:"SheetPublished|WarningsRaised|TaskMarked|SaleChange"` // by type
}

// States of a Delivery and of a Mail.
const (
	DeliveryWaiting   = "waiting" // for the first attempt or a retry at next_at
	DeliveryDelivered = "delivered"
	DeliveryFailed    = "failed" // out of retries; it can be replayed
)

// Delivery is one event sent to one webhook. Its ID is the webhook-id of every attempt.
type Delivery struct {
	ID        string          `json:"id"`
	Webhook   string          `json:"webhook"`
	Event     string          `json:"event"`
	State     string          `json:"state"`
	Attempts  int             `json:"attempts"`
	CreatedAt time.Time       `json:"created_at"`
	TriedAt   *time.Time      `json:"tried_at"`
	NextAt    *time.Time      `json:"next_at"`
	Status    int             `json:"status"` // HTTP status of the last response; 0: no response
	Answer    string          `json:"answer"` // beginning of the response, or the error
	Body      json.RawMessage `json:"body" schema:"HookBody"`
}

// DeliveryWaits is the back-off before each retry. A delivery has failed when they are used up.
var DeliveryWaits = []time.Duration{5 * time.Second, 5 * time.Minute, 30 * time.Minute, 2 * time.Hour, 5 * time.Hour, 10 * time.Hour, 14 * time.Hour}

// AfterFailure returns the state of a delivery after its attempts-th attempt at an instant has failed, and when to try again.
func AfterFailure(attempts int, at time.Time) (state string, next *time.Time) {
	if attempts > len(DeliveryWaits) {
		return DeliveryFailed, nil
	}
	again := at.Add(DeliveryWaits[attempts-1])
	return DeliveryWaiting, &again
}

// WebhookStore stores webhooks and their deliveries. AddEvent queues an event's deliveries in its own transaction, so that they are
// sent if and only if the event is committed.
type WebhookStore interface {
	AddWebhook(ctx context.Context, w Webhook, at time.Time) (stored Webhook, secret string, err error)
	Webhook(ctx context.Context, id string) (w Webhook, secret string, err error)
	Webhooks(ctx context.Context) ([]Webhook, error) // oldest first
	RemoveWebhook(ctx context.Context, id string) error
	Deliveries(ctx context.Context, webhook string, p Page) (Rows[Delivery], error) // newest first
	Delivery(ctx context.Context, id string) (Delivery, error)
	// Tried stores the outcome of an attempt and, if d.NextAt is set, queues the next one.
	Tried(ctx context.Context, d Delivery) error
	// Replay queues a delivery again, whatever its outcome. CodeConflict while it is waiting.
	Replay(ctx context.Context, id string, at time.Time) (Delivery, error)
}

// notPublic are the ranges that the methods of netip.Addr do not cover (IANA special-purpose address registries, from memory): this
// network, shared address space, protocol assignments, documentation, benchmarking, reserved, and IPv6 with embedded IPv4.
var notPublic = func() (list []netip.Prefix) {
	for _, s := range []string{"0.0.0.0/8", "100.64.0.0/10", "192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "198.18.0.0/15", "198.51.100.0/24",
		"203.0.113.0/24", "240.0.0.0/4", "64:ff9b::/96", "64:ff9b:1::/48", "100::/64", "2001::/23", "2001:db8::/32", "2002::/16", "3fff::/20", "5f00::/16", "fec0::/10"} {
		list = append(list, netip.MustParsePrefix(s))
	}
	return list
}()

// PublicAddress reports whether an address is on the public internet: not loopback, private, link-local or otherwise reserved.
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

// AllowedHost reports whether a host is in a list of names, such as hooks.example.com, or *.example.com for every name that ends so. An
// empty list allows all.
func AllowedHost(list []string, host string) bool {
	host = strings.TrimSuffix(strings.ToLower(host), ".")
	return len(list) == 0 || slices.ContainsFunc(list, func(allowed string) bool {
		allowed = strings.TrimSuffix(strings.ToLower(allowed), ".")
		if end, wild := strings.CutPrefix(allowed, "*"); wild {
			return strings.HasPrefix(end, ".") && strings.HasSuffix(host, end) && len(host) > len(end)
		}
		return host == allowed
	})
}
