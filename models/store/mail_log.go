package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"

	"hotday/models"
)

type mailRow struct {
	ID, Person, Address, Kind, Site, About, State, Answer string
	Attempts                                              int
	CreatedAt, Until                                      int64
	TriedAt, NextAt                                       *int64
}

const mailColumns = "id, person, address, kind, site, about, state, attempts, created_at, until, tried_at, next_at, answer"

func (r mailRow) mail() models.Mail {
	return models.Mail{ID: r.ID, Person: r.Person, Address: r.Address, Kind: r.Kind, Site: r.Site, About: r.About, State: r.State, Attempts: r.Attempts,
		CreatedAt: instant(r.CreatedAt), Until: instant(r.Until), TriedAt: instantOrNil(r.TriedAt), NextAt: instantOrNil(r.NextAt), Answer: r.Answer}
}

// addWithinLimits adds a message or, if the address has had too many in the last hour, logs it as not sent.
func (s *Store) addWithinLimits(ctx context.Context, m models.Mail) error {
	since := ms(m.CreatedAt.Add(-time.Hour))
	sent, _, err := row[int](ctx, s, "SELECT COUNT(*) FROM mails WHERE address = ? AND created_at > ?", m.Address, since)
	if err != nil {
		return err
	}
	if sent >= models.MailsPerHour {
		m.Answer = fmt.Sprintf("not sent: an address gets at most %d messages an hour", models.MailsPerHour)
	}
	if m.Kind == models.MailActNow || m.Kind == models.MailActToday {
		warned, _, err := row[int](ctx, s, "SELECT COUNT(*) FROM mails WHERE address = ? AND created_at > ? AND site = ? AND kind IN ?",
			m.Address, since, m.Site, []string{models.MailActNow, models.MailActToday})
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
	if _, err := s.exec(ctx, "INSERT INTO mails ("+mailColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, 0, ?, ?, NULL, ?, ?)",
		m.ID, m.Person, m.Address, m.Kind, m.Site, m.About, m.State, ms(m.CreatedAt), ms(m.Until), msOrNil(m.NextAt), m.Answer); err != nil {
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
		r, found, err := row[mailRow](ctx, tx, "SELECT "+mailColumns+" FROM mails WHERE id = ?", id)
		if err == nil && !found {
			err = models.Errorf(models.CodeNotFound, "there is no message %q", id)
		}
		if err != nil {
			return err
		}
		m = r.mail()
		stop, _, err = row[string](ctx, tx, "SELECT token FROM mail_subscriptions WHERE person = ? AND site = ? AND kind = ?", m.Person, m.Site, m.Kind)
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
		n, err := tx.exec(ctx, "UPDATE mails SET state = ?, attempts = ?, tried_at = ?, next_at = ?, answer = ?, about = ? WHERE id = ?",
			m.State, m.Attempts, msOrNil(m.TriedAt), msOrNil(m.NextAt), strings.ToValidUTF8(m.Answer, "\ufffd"), m.About, m.ID)
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
	out, err := newestFirst(ctx, s, "mail", mailColumns, "mails", "person", person, p, func(r mailRow) (models.Mail, int64) {
		return r.mail(), r.CreatedAt
	})
	return out, failed("read messages", err)
}
