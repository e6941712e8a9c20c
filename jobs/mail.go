package jobs

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"hotday/jobs/mail"
	"hotday/models"
	"hotday/planner/facts"
)

// reviewedDays is the number of days in the weekly review.
const reviewedDays = 7

// sendSheet queues the published sheet of a day for those who get it by e-mail or as a notification.
func (c Config) sendSheet(ctx context.Context, tx models.Store, site models.Site, day models.Date) error {
	if _, err := tx.Sheet(ctx, site.Code, day); err != nil {
		if models.CodeOf(err) == models.CodeNotFound {
			return nil
		}
		return err
	}
	cause := models.MailCause{Site: site.Code, Kind: models.MailSheet, About: string(day), At: c.Now(), Until: site.DayEnd(day)}
	if err := tx.QueuePush(ctx, cause); err != nil || c.Mail == nil {
		return err
	}
	return tx.QueueMail(ctx, cause)
}

// weeklyReview queues the review of the last seven days for those who get it by e-mail.
func (c Config) weeklyReview(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	if c.Mail == nil {
		return nil, nil
	}
	return func(tx models.Store) error {
		setup, _, err := tx.Setup(ctx, j.Site)
		if err != nil {
			return err
		}
		day := models.Date(j.Key)
		return tx.QueueMail(ctx, models.MailCause{Site: j.Site, Kind: models.MailReview, About: string(day.AddDays(-reviewedDays)), At: c.Now(),
			Until: setup.Site.DayEnd(day.AddDays(2))})
	}, nil
}

// sendMail makes one attempt at sending a message. As with webhooks, the outcome is stored with the job's completion, a retry is a job of its
// own, and an attempt whose outcome was lost is repeated with the same Message-ID.
func (c Config) sendMail(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	id, _, _ := strings.Cut(j.Key, "/")
	m, stop, err := c.Store.Mail(ctx, id)
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && m.State != models.DeliveryWaiting) {
		return nil, nil // removed with its person
	}
	if err != nil {
		return nil, fmt.Errorf("send message %s: %w", id, err)
	}
	at := c.Now()
	letter, reason, err := c.letter(ctx, m, stop)
	switch {
	case err != nil:
		return nil, fmt.Errorf("write message %s: %w", id, err)
	case reason != "":
		m.State, m.NextAt, m.Answer = models.DeliveryFailed, nil, "not sent: "+reason
	default:
		err := c.Mail.Send(ctx, letter)
		if ctx.Err() != nil {
			return nil, ctx.Err() // shutting down: this does not count as an attempt
		}
		m.Attempts++
		m.TriedAt, m.NextAt, m.State, m.Answer = &at, nil, models.DeliveryDelivered, ""
		if err != nil {
			m.State, m.NextAt = models.AfterFailure(m.Attempts, at)
			if refused := (*mail.RefusedError)(nil); errors.As(err, &refused) {
				m.State, m.NextAt = models.DeliveryFailed, nil
			}
			m.Answer = err.Error()
			m.Answer = m.Answer[:min(len(m.Answer), maxResponse)]
		}
	}
	if m.State == models.DeliveryFailed {
		c.Log.Warn("e-mail not sent", "mail", m.ID, "kind", m.Kind, "site", m.Site, "reason", m.Answer)
	}
	return func(tx models.Store) error { return unlessGone(tx.MailTried(ctx, m)) }, nil
}

// letter writes a message from what holds now. reason says why it is no longer to be sent.
func (c Config) letter(ctx context.Context, m models.Mail, stop string) (l mail.Letter, reason string, err error) {
	now := c.Now()
	switch {
	case c.Mail == nil:
		return l, "the service runs without a mail server", nil
	case !m.Until.After(now):
		return l, "too late", nil
	}
	set, err := c.Store.MailSettings(ctx, m.Person)
	if models.CodeOf(err) == models.CodeNotFound {
		return l, "the person was removed", nil
	}
	if err != nil {
		return l, "", err
	}
	reader, err := c.Store.TokenByID(ctx, m.Person)
	if err != nil {
		return l, "", err
	}
	if set.Address != m.Address {
		return l, "the address has changed", nil
	}
	if m.Kind == models.MailConfirm {
		return c.confirmation(ctx, m, set, reader)
	}
	if set.ConfirmedAt == nil || !slices.Contains(set.Kinds(m.Site), m.Kind) || !reader.MayGet(m.Site) {
		return l, "no longer wanted", nil
	}
	setup, _, err := c.Store.Setup(ctx, m.Site)
	if err != nil {
		return l, "", err
	}
	w := c.Mail.WriterFor(m, setup, reader, stop)
	switch m.Kind {
	case models.MailSheet:
		return c.sheetLetter(ctx, m, w)
	case models.MailActNow, models.MailActToday:
		return c.warningLetter(ctx, m, w)
	case models.MailReview:
		review, err := facts.Review(ctx, c.Store, m.Site, models.Date(m.About), reviewedDays, now)
		if err != nil {
			return l, "", err
		}
		if review.Open == 0 {
			return l, "no sales counts in that week", nil
		}
		l, err = w.Review(review)
		return l, "", err
	}
	return l, "unknown kind " + m.Kind, nil
}

// confirmation writes the message in the language of the first site that the person is to hear from.
func (c Config) confirmation(ctx context.Context, m models.Mail, set models.MailSettings, reader models.Token) (l mail.Letter, reason string, err error) {
	if set.ConfirmedAt != nil {
		return l, "the address is already confirmed", nil
	}
	sites := []string{}
	for _, x := range set.Subscriptions {
		sites = append(sites, x.Site)
	}
	if len(sites) == 0 {
		if sites, err = c.Store.Sites(ctx); err != nil {
			return l, "", err
		}
	}
	for _, site := range sites {
		if !reader.MayGet(site) {
			continue
		}
		setup, _, err := c.Store.Setup(ctx, site)
		if err != nil {
			return l, "", err
		}
		l, err = c.Mail.WriterFor(m, setup, reader, "").Confirmation()
		return l, "", err
	}
	return l, "no longer wanted", nil
}

func (c Config) sheetLetter(ctx context.Context, m models.Mail, w mail.Writer) (l mail.Letter, reason string, err error) {
	s, err := c.Store.Sheet(ctx, m.Site, models.Date(m.About))
	if models.CodeOf(err) == models.CodeNotFound {
		return l, "the sheet was removed", nil
	}
	if err != nil {
		return l, "", err
	}
	plan, _, err := c.Store.Plan(ctx, m.Site, s.Revision)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return l, "", err
	}
	l, err = w.Sheet(s, plan)
	return l, "", err
}

// warningLetter writes about those of the message's warnings that are still open.
func (c Config) warningLetter(ctx context.Context, m models.Mail, w mail.Writer) (l mail.Letter, reason string, err error) {
	open, err := c.stillOpen(ctx, m.Site, m.About)
	if err != nil || len(open) == 0 {
		return l, "the warning is over", err
	}
	l, err = w.Warnings(open)
	return l, "", err
}

// stillOpen returns those of the warnings with these IDs that are still open, the most urgent first.
func (c Config) stillOpen(ctx context.Context, site, about string) ([]models.OpenWarning, error) {
	open, err := c.Store.OpenWarnings(ctx, site)
	ids := strings.Fields(about)
	open = slices.DeleteFunc(open, func(x models.OpenWarning) bool { return !slices.Contains(ids, x.ID) })
	slices.SortStableFunc(open, func(a, b models.OpenWarning) int {
		if (a.Grade == models.GradeActNow) != (b.Grade == models.GradeActNow) {
			if a.Grade == models.GradeActNow {
				return -1
			}
			return 1
		}
		return a.At.Compare(b.At)
	})
	return open, err
}
