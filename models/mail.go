package models

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"time"
)

// Kinds of e-mail.
const (
	MailSheet    = "sheet"         // the next day's prep sheet, in the evening
	MailActNow   = "act_now"       // warnings to act on now
	MailActToday = "act_today"     // warnings to act on today
	MailReview   = "weekly_review" // how the last seven days went
	MailConfirm  = "confirmation"  // the link that confirms an address: nobody subscribes to it
)

// MailKinds are the kinds that a person can get.
var MailKinds = []string{MailSheet, MailActNow, MailActToday, MailReview}

// MailSettings are a person's e-mail address and the messages that go to it. Nothing but the confirmation is sent before the address
// is confirmed.
type MailSettings struct {
	Person        string             `json:"person"`
	Address       string             `json:"address"`      // empty: none
	ConfirmedAt   *time.Time         `json:"confirmed_at"` // null: not yet
	Subscriptions []MailSubscription `json:"subscriptions"`
}

// MailSubscription is what a person gets from a site.
type MailSubscription struct {
	Site  string   `json:"site"`
	Kinds []string `json:"kinds"`
}

// Kinds returns what the person gets from a site.
func (s MailSettings) Kinds(site string) []string {
	for _, x := range s.Subscriptions {
		if x.Site == site {
			return x.Kinds
		}
	}
	return nil
}

// Mail is a message to a person. Its ID is the local part of the Message-ID of every attempt.
type Mail struct {
	ID        string     `json:"id"`
	Person    string     `json:"person"`
	Address   string     `json:"address"`
	Kind      string     `json:"kind"`
	Site      string     `json:"site"`  // empty: of a confirmation
	State     string     `json:"state"` // waiting, delivered: the mail server took it, failed
	Attempts  int        `json:"attempts"`
	CreatedAt time.Time  `json:"created_at"`
	TriedAt   *time.Time `json:"tried_at"`
	NextAt    *time.Time `json:"next_at"`
	Until     time.Time  `json:"until"`  // when it is no longer news, and not sent
	Answer    string     `json:"answer"` // the mail server's error, or the reason for not sending

	// About is what it reports: a sheet's date, the IDs of warnings, a review's first day, or the code of a confirmation.
	About string `json:"-"`
}

// MailCause is what messages of a kind are queued for.
type MailCause struct {
	Site, Kind, About string
	At, Until         time.Time
}

// MailStop is a subscription found by the token in a message's link to stop.
type MailStop struct {
	Person, Name, Address string
	Site, Kind            string
	Stopped               bool // already
}

// Limits of e-mail. Beyond them a message is logged as not sent.
const (
	MailsPerHour        = 60 // to one address
	WarningMailsPerHour = 6  // of them about warnings of one site
	ConfirmationsPerDay = 3  // to one address
)

// MailWarningTime is how long a warning is worth a message.
const MailWarningTime = 6 * time.Hour

// mailPattern is the HTML Living Standard's pattern of a valid e-mail address with a dot in the domain (from memory). It leaves no room for
// spaces, quotes, control characters or a second address.
var mailPattern = regexp.MustCompile("^[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@(?:[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?\\.)+[A-Za-z](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])$")

// MailAddress normalises an e-mail address: trimmed, the domain in lower case. ok is false for an invalid one.
func MailAddress(typed string) (address string, ok bool) {
	address = strings.TrimSpace(typed)
	local, domain, found := strings.Cut(address, "@")
	if !found || len(address) > 254 || !mailPattern.MatchString(address) {
		return "", false
	}
	return local + "@" + strings.ToLower(domain), true
}

// MayGet reports whether what a token may read at a site includes what is sent by e-mail.
func (t Token) MayGet(site string) bool { return t.May(ScopeRead, site) }

// SortedMailKinds returns the distinct kinds of a list in the order of MailKinds; what is not among those is left out.
func SortedMailKinds(list []string) []string {
	return slices.DeleteFunc(slices.Clone(MailKinds), func(k string) bool { return !slices.Contains(list, k) })
}

// MailStore stores addresses, subscriptions and messages. Queueing a message queues its first attempt in the same transaction, so that it is
// sent if and only if its cause is committed.
type MailStore interface {
	// MailSettings returns a person's settings, without address or subscriptions if there are none.
	MailSettings(ctx context.Context, person string) (MailSettings, error)
	// PutMailSettings replaces a person's address and what they get from the sites in s.Subscriptions; other sites stay as they are. With
	// another address than before nothing is confirmed; without one everything is removed.
	PutMailSettings(ctx context.Context, s MailSettings) (MailSettings, error)
	// QueueConfirmation queues the message with a new link that confirms the person's address. CodeConflict without an unconfirmed address,
	// CodeTooMany beyond ConfirmationsPerDay.
	QueueConfirmation(ctx context.Context, person string, at time.Time) error
	// MailByCode returns the settings that a link confirms; CodeNotFound if it is unknown, expired or replaced.
	MailByCode(ctx context.Context, code string, at time.Time) (MailSettings, error)
	// ConfirmMail confirms the address of a link, once: changed is false if it was confirmed before.
	ConfirmMail(ctx context.Context, code string, at time.Time) (s MailSettings, changed bool, err error)
	// MailStop finds a subscription by the token in its messages.
	MailStop(ctx context.Context, token string) (MailStop, error)
	// StopMail ends a subscription, or all of the person's, and returns those that were not stopped before.
	StopMail(ctx context.Context, token string, all bool) ([]MailStop, error)

	// QueueMail queues a message to everyone who gets c.Kind from c.Site, once for each c.About.
	QueueMail(ctx context.Context, c MailCause) error
	// QueueWarningMail queues a message to everyone who gets warnings of these grades from the site: about each warning once, and again only
	// when it becomes more urgent.
	QueueWarningMail(ctx context.Context, site string, warnings []OpenWarning, at time.Time) error
	// Mail returns a message by its ID, and the token that stops its kind, "" for a confirmation.
	Mail(ctx context.Context, id string) (m Mail, stop string, err error)
	// MailTried stores the outcome of an attempt and, if m.NextAt is set, queues the next one.
	MailTried(ctx context.Context, m Mail) error
	// MailLog returns a person's messages, newest first.
	MailLog(ctx context.Context, person string, p Page) (Rows[Mail], error)
}
