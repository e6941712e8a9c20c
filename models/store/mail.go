package store

import (
	"context"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

const mailSettingsColumns = "person, address, confirmed_at"

type mailAddressRow struct {
	Person, Address string
	ConfirmedAt     *int64
}

// MailSettings returns a person's address and subscriptions.
func (s *Store) MailSettings(ctx context.Context, person string) (out models.MailSettings, err error) {
	err = failed("read e-mail settings", s.view(ctx, func(tx *Store) error {
		if _, err := tx.Person(ctx, person); err != nil {
			return err
		}
		r, found, err := row[mailAddressRow](ctx, tx, "SELECT "+mailSettingsColumns+" FROM mail_addresses WHERE person = ?", person)
		if err != nil {
			return err
		}
		if !found {
			r.Person = person
		}
		out, err = tx.mailSettings(ctx, r)
		return err
	}))
	return out, err
}

// mailSettings adds the subscriptions to an address.
func (s *Store) mailSettings(ctx context.Context, r mailAddressRow) (models.MailSettings, error) {
	out := models.MailSettings{Person: r.Person, Address: r.Address, ConfirmedAt: instantOrNil(r.ConfirmedAt), Subscriptions: []models.MailSubscription{}}
	list, err := rows[struct{ Site, Kind string }](ctx, s, "SELECT site, kind FROM mail_subscriptions WHERE person = ? AND NOT stopped ORDER BY site, kind", r.Person)
	for _, x := range list {
		if n := len(out.Subscriptions); n == 0 || out.Subscriptions[n-1].Site != x.Site {
			out.Subscriptions = append(out.Subscriptions, models.MailSubscription{Site: x.Site})
		}
		last := &out.Subscriptions[len(out.Subscriptions)-1]
		last.Kinds = models.SortedMailKinds(append(last.Kinds, x.Kind))
	}
	return out, err
}

// PutMailSettings stores an address and subscriptions. A stopped subscription keeps its token, so that the links in old messages work.
func (s *Store) PutMailSettings(ctx context.Context, set models.MailSettings) (out models.MailSettings, err error) {
	err = failed("store e-mail settings", s.alone(ctx, func(tx *Store) error {
		if set.Address == "" {
			if err := tx.removeMail(ctx, set.Person); err != nil {
				return err
			}
			out, err = tx.MailSettings(ctx, set.Person)
			return err
		}
		if _, err := tx.Person(ctx, set.Person); err != nil {
			return err
		}
		if _, err := tx.exec(ctx, `INSERT INTO mail_addresses (person, address) VALUES (?, ?) ON CONFLICT (person) DO UPDATE
			SET address = excluded.address, confirmed_at = NULL, code_hash = NULL, code_until = NULL WHERE mail_addresses.address <> excluded.address`,
			set.Person, set.Address); err != nil {
			return err
		}
		for _, x := range set.Subscriptions {
			if _, err := tx.site(ctx, x.Site); err != nil {
				return err
			}
			for _, kind := range models.MailKinds {
				if err := tx.subscribe(ctx, set.Person, x.Site, kind, slices.Contains(x.Kinds, kind)); err != nil {
					return err
				}
			}
		}
		out, err = tx.MailSettings(ctx, set.Person)
		return err
	}))
	return out, err
}

func (s *Store) subscribe(ctx context.Context, person, site, kind string, wanted bool) error {
	if !wanted {
		_, err := s.exec(ctx, "UPDATE mail_subscriptions SET stopped = TRUE WHERE person = ? AND site = ? AND kind = ?", person, site, kind)
		return err
	}
	_, err := s.exec(ctx, `INSERT INTO mail_subscriptions (person, site, kind, token, stopped) VALUES (?, ?, ?, ?, FALSE)
		ON CONFLICT (person, site, kind) DO UPDATE SET stopped = FALSE`, person, site, kind, newSecret(""))
	return err
}

// removeMail removes a person's address with everything that depends on it.
func (s *Store) removeMail(ctx context.Context, person string) error {
	for _, statement := range []string{"DELETE FROM mail_addresses WHERE person = ?", "DELETE FROM mails WHERE person = ?", "DELETE FROM mailed_warnings WHERE person = ?"} {
		if _, err := s.exec(ctx, statement, person); err != nil {
			return err
		}
	}
	return nil
}

// QueueConfirmation replaces the code of an address and queues the message that has it. The code stays in the message until that is sent.
func (s *Store) QueueConfirmation(ctx context.Context, person string, at time.Time) error {
	return failed("queue a confirmation", s.alone(ctx, func(tx *Store) error {
		set, err := tx.MailSettings(ctx, person)
		switch {
		case err != nil:
			return err
		case set.Address == "":
			return models.Errorf(models.CodeConflict, "there is no address to confirm")
		case set.ConfirmedAt != nil:
			return models.Errorf(models.CodeConflict, "the address is already confirmed")
		}
		sent, _, err := row[int](ctx, tx, "SELECT COUNT(*) FROM mails WHERE address = ? AND created_at > ? AND kind = ?", set.Address, ms(at.Add(-24*time.Hour)), models.MailConfirm)
		if err != nil {
			return err
		}
		if sent >= models.ConfirmationsPerDay {
			return models.Errorf(models.CodeTooMany, "%d links have been sent to this address today: try again tomorrow", sent)
		}
		code, until := newSecret(""), at.Add(models.LinkTime)
		if _, err := tx.exec(ctx, "UPDATE mail_addresses SET code_hash = ?, code_until = ? WHERE person = ?", hashOf(code), ms(until), person); err != nil {
			return err
		}
		return tx.addMail(ctx, models.Mail{Person: person, Address: set.Address, Kind: models.MailConfirm, About: code, CreatedAt: at, Until: until})
	}))
}

func (s *Store) addressByCode(ctx context.Context, code string, at time.Time) (mailAddressRow, error) {
	r, found, err := row[mailAddressRow](ctx, s, "SELECT "+mailSettingsColumns+" FROM mail_addresses WHERE code_hash = ? AND code_until > ?", hashOf(code), ms(at))
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "this link has expired or has been replaced by a newer one")
	}
	return r, err
}

// MailByCode returns the settings whose address a link confirms.
func (s *Store) MailByCode(ctx context.Context, code string, at time.Time) (out models.MailSettings, err error) {
	err = failed("find an address to confirm", s.view(ctx, func(tx *Store) error {
		r, err := tx.addressByCode(ctx, code, at)
		if err != nil {
			return err
		}
		out, err = tx.mailSettings(ctx, r)
		return err
	}))
	return out, err
}

// ConfirmMail confirms an address.
func (s *Store) ConfirmMail(ctx context.Context, code string, at time.Time) (out models.MailSettings, changed bool, err error) {
	err = failed("confirm an address", s.alone(ctx, func(tx *Store) error {
		r, err := tx.addressByCode(ctx, code, at)
		if err != nil {
			return err
		}
		n, err := tx.exec(ctx, "UPDATE mail_addresses SET confirmed_at = ? WHERE person = ? AND confirmed_at IS NULL", ms(at), r.Person)
		if err != nil {
			return err
		}
		changed = n > 0
		out, err = tx.MailSettings(ctx, r.Person)
		return err
	}))
	return out, changed && err == nil, err
}

type mailStopRow struct {
	Person, Name, Address, Site, Kind string
	Stopped                           bool
}

const mailStopQuery = `SELECT s.person, t.name, a.address, s.site, s.kind, s.stopped FROM mail_subscriptions s
	JOIN mail_addresses a ON a.person = s.person JOIN tokens t ON t.id = s.person WHERE `

// MailStop finds a subscription by its token.
func (s *Store) MailStop(ctx context.Context, token string) (models.MailStop, error) {
	r, found, err := row[mailStopRow](ctx, s, mailStopQuery+"s.token = ?", token)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there are no such messages: they may have been stopped for good")
	}
	return models.MailStop(r), failed("find messages to stop", err)
}

// StopMail ends a subscription or all of its person.
func (s *Store) StopMail(ctx context.Context, token string, all bool) (stopped []models.MailStop, err error) {
	err = failed("stop messages", s.alone(ctx, func(tx *Store) error {
		x, err := tx.MailStop(ctx, token)
		if err != nil {
			return err
		}
		where, args := "s.token = ? AND NOT s.stopped", []any{token}
		if all {
			where, args = "s.person = ? AND NOT s.stopped ORDER BY s.site, s.kind", []any{x.Person}
		}
		list, err := rows[mailStopRow](ctx, tx, mailStopQuery+where, args...)
		if err != nil {
			return err
		}
		for _, r := range list {
			if err := tx.subscribe(ctx, r.Person, r.Site, r.Kind, false); err != nil {
				return err
			}
			stopped = append(stopped, models.MailStop(r))
		}
		return nil
	}))
	if err != nil {
		return nil, err
	}
	return stopped, nil
}

// mailTo is somebody who gets messages of a kind from a site.
type mailTo struct{ Person, Address, Kind string }

// subscribers returns those who get any of these kinds from a site: with a confirmed address and the permission to read there.
func (s *Store) subscribers(ctx context.Context, site string, kinds ...string) ([]mailTo, error) {
	list, err := rows[struct {
		Person, Address, Kind, Scopes, AtSite, SiteGroups string
	}](ctx, s, `SELECT s.person, a.address, s.kind, t.scopes, t.site AS at_site, t.site_groups FROM mail_subscriptions s
		JOIN mail_addresses a ON a.person = s.person JOIN tokens t ON t.id = s.person
		WHERE s.site = ? AND s.kind IN ? AND NOT s.stopped AND a.confirmed_at IS NOT NULL AND t.revoked_at IS NULL ORDER BY s.person, s.kind`, site, kinds)
	var out []mailTo
	for _, r := range list {
		may, err := s.mayGet(ctx, r.Scopes, r.AtSite, r.SiteGroups, site)
		if err != nil {
			return nil, err
		}
		if may {
			out = append(out, mailTo{r.Person, r.Address, r.Kind})
		}
	}
	return out, err
}

// QueueMail queues a message to each subscriber who has not been sent the same before.
func (s *Store) QueueMail(ctx context.Context, c models.MailCause) error {
	return s.changeAside(ctx, "queue e-mail of "+c.Site, c.Site, func(tx *Store, _ siteRow) error {
		list, err := tx.subscribers(ctx, c.Site, c.Kind)
		if err != nil {
			return err
		}
		for _, to := range list {
			_, before, err := row[string](ctx, tx, "SELECT id FROM mails WHERE person = ? AND site = ? AND kind = ? AND about = ?", to.Person, c.Site, c.Kind, c.About)
			if err != nil {
				return err
			}
			if before {
				continue
			}
			m := models.Mail{Person: to.Person, Address: to.Address, Kind: c.Kind, Site: c.Site, About: c.About, CreatedAt: c.At, Until: c.Until}
			if err := tx.addWithinLimits(ctx, m); err != nil {
				return err
			}
		}
		return nil
	})
}

// mailOfGrade maps the grades of warnings to the kinds of message.
var mailOfGrade = map[string]string{models.GradeActNow: models.MailActNow, models.GradeActToday: models.MailActToday}

// QueueWarningMail queues one message a person about all warnings that are news to them.
func (s *Store) QueueWarningMail(ctx context.Context, site string, warnings []models.OpenWarning, at time.Time) error {
	if !slices.ContainsFunc(warnings, func(w models.OpenWarning) bool { return mailOfGrade[w.Grade] != "" }) {
		return nil
	}
	return s.changeAside(ctx, "queue warnings by e-mail of "+site, site, func(tx *Store, _ siteRow) error {
		list, err := tx.subscribers(ctx, site, models.MailActNow, models.MailActToday)
		if err != nil {
			return err
		}
		for len(list) > 0 { // in the order of people
			to, wanted := list[0], []string{}
			for len(list) > 0 && list[0].Person == to.Person {
				wanted, list = append(wanted, list[0].Kind), list[1:]
			}
			kind, ids, err := tx.freshWarnings(ctx, sentWarnings{"mailed_warnings", "person", to.Person}, warnings, wanted, at)
			if err != nil {
				return err
			}
			if len(ids) == 0 {
				continue
			}
			m := models.Mail{Person: to.Person, Address: to.Address, Kind: kind, Site: site, About: strings.Join(ids, " "), CreatedAt: at, Until: at.Add(models.MailWarningTime)}
			if err := tx.addWithinLimits(ctx, m); err != nil {
				return err
			}
		}
		return nil
	})
}

// sentWarnings is the table of the warnings that a person or a device has been sent.
type sentWarnings struct{ table, column, id string }

// freshWarnings returns those warnings that are wanted and have not been sent, or only as less urgent, with the kind of the most urgent one,
// and notes that they are sent.
func (s *Store) freshWarnings(ctx context.Context, to sentWarnings, warnings []models.OpenWarning, wanted []string, at time.Time) (kind string, ids []string, err error) {
	for _, w := range warnings {
		of := mailOfGrade[w.Grade]
		if of == "" || !slices.Contains(wanted, of) {
			continue
		}
		sent, err := rows[string](ctx, s, "SELECT grade FROM "+to.table+" WHERE "+to.column+" = ? AND warning = ?", to.id, w.ID)
		if err != nil {
			return "", nil, err
		}
		if slices.Contains(sent, w.Grade) || slices.Contains(sent, models.GradeActNow) {
			continue // also where it has become less urgent
		}
		if _, err := s.exec(ctx, "INSERT INTO "+to.table+" ("+to.column+", warning, grade, at) VALUES (?, ?, ?, ?)", to.id, w.ID, w.Grade, ms(at)); err != nil {
			return "", nil, err
		}
		ids = append(ids, w.ID)
		if kind != models.MailActNow {
			kind = of
		}
	}
	return kind, ids, nil
}
