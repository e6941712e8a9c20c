package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"

	"hotday/models"
)

type mailRow struct {
	ID        string
	Person    string
	Address   string
	Kind      string
	Site      string // empty: of a confirmation
	About     string
	State     string
	Attempts  int
	CreatedAt int64 `gorm:"autoCreateTime:false"`
	Until     int64
	TriedAt   *int64
	NextAt    *int64
	Answer    string
}

func (mailRow) TableName() string { return "mails" }

func (r mailRow) mail() models.Mail {
	return models.Mail{ID: r.ID, Person: r.Person, Address: r.Address, Kind: r.Kind, Site: r.Site, About: r.About, State: r.State, Attempts: r.Attempts,
		CreatedAt: instant(r.CreatedAt), Until: instant(r.Until), TriedAt: instantOrNil(r.TriedAt), NextAt: instantOrNil(r.NextAt), Answer: r.Answer}
}

// addWithinLimits adds a message or, if the address has had too many in the last hour, logs it as not sent.
func (s *Store) addWithinLimits(ctx context.Context, m models.Mail) error {
	since := ms(m.CreatedAt.Add(-time.Hour))
	recent := gorm.G[mailRow](s.db).Where("address = ? AND created_at > ?", m.Address, since)
	sent, err := recent.Count(ctx, "id")
	if err != nil {
		return err
	}
	if sent >= models.MailsPerHour {
		m.Answer = fmt.Sprintf("not sent: an address gets at most %d messages an hour", models.MailsPerHour)
	}
	if m.Kind == models.MailActNow || m.Kind == models.MailActToday {
		warned, err := recent.Scopes(ofSite(m.Site)).Where("kind IN ?", []string{models.MailActNow, models.MailActToday}).Count(ctx, "id")
		if err != nil {
			return err
		}
		if warned >= models.WarningMailsPerHour {
			m.Answer = fmt.Sprintf("not sent: an address gets at most %d messages an hour about warnings of a site", models.WarningMailsPerHour)
		}
	}
	return s.addMail(ctx, m)
}

// addMail stores a message and, unless Answer says why it isn't sent, queues its first attempt.
func (s *Store) addMail(ctx context.Context, m models.Mail) error {
	m.ID, m.State, m.NextAt = "mail_"+ulid.Make().String(), models.DeliveryWaiting, &m.CreatedAt
	if m.Answer != "" {
		m.State, m.NextAt = models.DeliveryFailed, nil
	}
	if err := gorm.G[mailRow](s.db).Create(ctx, &mailRow{ID: m.ID, Person: m.Person, Address: m.Address, Kind: m.Kind, Site: m.Site, About: m.About,
		State: m.State, CreatedAt: ms(m.CreatedAt), Until: ms(m.Until), NextAt: msOrNil(m.NextAt), Answer: m.Answer}); err != nil {
		return err
	}
	if m.NextAt == nil {
		return nil
	}
	return s.queueAttempt(ctx, models.JobMail, m.ID, 0, time.Time{})
}

// Mail returns a message by ID, and the token of its subscription.
func (s *Store) Mail(ctx context.Context, id string) (m models.Mail, stop string, err error) {
	err = failed("find a message", s.view(ctx, func(tx *Store) error {
		r, found, err := one(gorm.G[mailRow](tx.db).Where("id = ?", id).Take(ctx))
		if err == nil && !found {
			err = models.Errorf(models.CodeNotFound, "there is no message %q", id)
		}
		if err != nil {
			return err
		}
		m = r.mail()
		subscription, _, err := one(gorm.G[subscriptionRow](tx.db).Scopes(ofSite(m.Site)).Where("person = ? AND kind = ?", m.Person, m.Kind).Take(ctx))
		stop = subscription.Token
		return err
	}))
	return m, stop, err
}

// MailTried stores the outcome of an attempt and queues the next one. The code of a confirmation is forgotten once it is sent or given up.
func (s *Store) MailTried(ctx context.Context, m models.Mail) error {
	return failed("store an attempt to send", s.within(ctx, func(tx *Store) error {
		if m.Kind == models.MailConfirm && m.State != models.DeliveryWaiting {
			m.About = ""
		}
		n, err := gorm.G[mailRow](tx.db).Where("id = ?", m.ID).Set(columns{"state": m.State, "attempts": m.Attempts, "tried_at": msOrNil(m.TriedAt),
			"next_at": msOrNil(m.NextAt), "answer": strings.ToValidUTF8(m.Answer, "\ufffd"), "about": m.About}).Update(ctx)
		if err != nil {
			return err
		}
		if n == 0 {
			return models.Errorf(models.CodeNotFound, "there is no message %q", m.ID)
		}
		if m.NextAt == nil {
			return nil
		}
		return tx.queueAttempt(ctx, models.JobMail, m.ID, m.Attempts, *m.NextAt)
	}))
}

// MailLog returns a page of a person's messages, newest first.
func (s *Store) MailLog(ctx context.Context, person string, p models.Page) (models.Rows[models.Mail], error) {
	out, err := newestFirst(ctx, "mail", gorm.G[mailRow](s.db).Where("person = ?", person), p, func(r mailRow) (models.Mail, int64) {
		return r.mail(), r.CreatedAt
	})
	return out, failed("read messages", err)
}
