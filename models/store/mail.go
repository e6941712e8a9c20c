package store

import (
	"context"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

// mailAddressRow is a person's address. The code confirms it.
type mailAddressRow struct {
	Person      string `gorm:"primaryKey"`
	Address     string
	ConfirmedAt *int64
	CodeHash    *string
	CodeUntil   *int64
}

func (mailAddressRow) TableName() string { return "mail_addresses" }

// subscriptionRow is a kind of message that a person gets from a site. The token, in clear, is in every message: it can only stop messages.
type subscriptionRow struct {
	Person  string `gorm:"primaryKey"`
	Site    string `gorm:"primaryKey"`
	Kind    string `gorm:"primaryKey"`
	Token   string
	Stopped bool
}

func (subscriptionRow) TableName() string { return "mail_subscriptions" }

// subscriptions are all subscriptions, joined with the address and the token of their person.
func (s *Store) subscriptions(ctx context.Context) *gorm.DB {
	return s.db.WithContext(ctx).Model(subscriptionRow{}).Joins("JOIN mail_addresses ON mail_addresses.person = mail_subscriptions.person").
		Joins("JOIN tokens ON tokens.id = mail_subscriptions.person")
}

// MailSettings returns a person's address and subscriptions.
func (s *Store) MailSettings(ctx context.Context, person string) (out models.MailSettings, err error) {
	err = failed("read e-mail settings", s.view(ctx, func(tx *Store) error {
		if _, err := tx.Person(ctx, person); err != nil {
			return err
		}
		r, found, err := one(gorm.G[mailAddressRow](tx.db).Where("person = ?", person).Take(ctx))
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
	list, err := gorm.G[subscriptionRow](s.db).Where("person = ? AND stopped = ?", r.Person, false).Order("site, kind").Find(ctx)
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
		ifOther := clause.OnConflict{UpdateAll: true, Where: clause.Where{Exprs: []clause.Expression{clause.Expr{SQL: "mail_addresses.address <> excluded.address"}}}}
		if err := gorm.G[mailAddressRow](tx.db, ifOther).Create(ctx, &mailAddressRow{Person: set.Person, Address: set.Address}); err != nil {
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
		_, err := gorm.G[subscriptionRow](s.db).Scopes(ofSite(site)).Where("person = ? AND kind = ?", person, kind).Update(ctx, "stopped", true)
		return err
	}
	again := clause.OnConflict{Columns: []clause.Column{{Name: "person"}, {Name: "site"}, {Name: "kind"}}, DoUpdates: clause.AssignmentColumns([]string{"stopped"})}
	return gorm.G[subscriptionRow](s.db, again).Create(ctx, &subscriptionRow{Person: person, Site: site, Kind: kind, Token: newSecret("")})
}

// removeMail removes a person's address with everything that depends on it.
func (s *Store) removeMail(ctx context.Context, person string) error {
	if _, err := gorm.G[mailAddressRow](s.db).Where("person = ?", person).Delete(ctx); err != nil {
		return err
	}
	if _, err := gorm.G[mailRow](s.db).Where("person = ?", person).Delete(ctx); err != nil {
		return err
	}
	_, err := gorm.G[mailedWarningRow](s.db).Where("person = ?", person).Delete(ctx)
	return err
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
		sent, err := gorm.G[mailRow](tx.db).Where("address = ? AND created_at > ? AND kind = ?", set.Address, ms(at.Add(-24*time.Hour)), models.MailConfirm).
			Count(ctx, "id")
		if err != nil {
			return err
		}
		if sent >= models.ConfirmationsPerDay {
			return models.Errorf(models.CodeTooMany, "%d links have been sent to this address today: try again tomorrow", sent)
		}
		code, until := newSecret(""), at.Add(models.LinkTime)
		if _, err := gorm.G[mailAddressRow](tx.db).Where("person = ?", person).
			Set(columns{"code_hash": hashOf(code), "code_until": ms(until)}).Update(ctx); err != nil {
			return err
		}
		return tx.addMail(ctx, models.Mail{Person: person, Address: set.Address, Kind: models.MailConfirm, About: code, CreatedAt: at, Until: until})
	}))
}

func (s *Store) addressByCode(ctx context.Context, code string, at time.Time) (mailAddressRow, error) {
	r, found, err := one(gorm.G[mailAddressRow](s.db).Where("code_hash = ? AND code_until > ?", hashOf(code), ms(at)).Take(ctx))
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
		n, err := gorm.G[mailAddressRow](tx.db).Where("person = ? AND confirmed_at IS NULL", r.Person).Update(ctx, "confirmed_at", ms(at))
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

// mailStops returns subscriptions that meet a condition, as they are stopped.
func (s *Store) mailStops(ctx context.Context, condition string, args ...any) (list []mailStopRow, err error) {
	err = s.subscriptions(ctx).Select("mail_subscriptions.person, name, address, mail_subscriptions.site, mail_subscriptions.kind, stopped").
		Where(condition, args...).Order("mail_subscriptions.site, mail_subscriptions.kind").Scan(&list).Error
	return list, err
}

// MailStop finds a subscription by its token.
func (s *Store) MailStop(ctx context.Context, token string) (models.MailStop, error) {
	list, err := s.mailStops(ctx, "token = ?", token)
	if err == nil && len(list) == 0 {
		err = models.Errorf(models.CodeNotFound, "there are no such messages: they may have been stopped for good")
	}
	if err != nil {
		return models.MailStop{}, failed("find messages to stop", err)
	}
	return models.MailStop(list[0]), nil
}

// StopMail ends a subscription or all of its person.
func (s *Store) StopMail(ctx context.Context, token string, all bool) (stopped []models.MailStop, err error) {
	err = failed("stop messages", s.alone(ctx, func(tx *Store) error {
		x, err := tx.MailStop(ctx, token)
		if err != nil {
			return err
		}
		condition, of := "stopped = ? AND token = ?", token
		if all {
			condition, of = "stopped = ? AND mail_subscriptions.person = ?", x.Person
		}
		list, err := tx.mailStops(ctx, condition, false, of)
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
	var list []struct {
		Person, Address, Kind, Scopes, AtSite, SiteGroups string
	}
	err := s.subscriptions(ctx).Select("mail_subscriptions.person, address, mail_subscriptions.kind, scopes, tokens.site AS at_site, site_groups").
		Where("mail_subscriptions.site = ? AND mail_subscriptions.kind IN ? AND stopped = ?", site, kinds, false).
		Where("confirmed_at IS NOT NULL AND tokens.revoked_at IS NULL").Order("mail_subscriptions.person, mail_subscriptions.kind").Scan(&list).Error
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
			_, before, err := one(gorm.G[mailRow](tx.db).Scopes(ofSite(c.Site)).Where("person = ? AND kind = ? AND about = ?", to.Person, c.Kind, c.About).Take(ctx))
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
			kind, ids, err := tx.freshWarnings(ctx, sentWarnings{mailedWarningRow{}, "person", to.Person}, warnings, wanted, at)
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

// mailedWarningRow is a warning that a person has been sent, pushedWarningRow one that a device has, as it was graded.
type (
	mailedWarningRow struct {
		Person  string `gorm:"primaryKey"`
		Warning string `gorm:"primaryKey"`
		Grade   string `gorm:"primaryKey"`
		At      int64
	}
	pushedWarningRow struct {
		Device  string `gorm:"primaryKey"`
		Warning string `gorm:"primaryKey"`
		Grade   string `gorm:"primaryKey"`
		At      int64
	}
)

func (mailedWarningRow) TableName() string { return "mailed_warnings" }
func (pushedWarningRow) TableName() string { return "pushed_warnings" }

// sentWarnings is the table of the warnings that a person or a device has been sent: a row model, the column of their ID and the ID.
type sentWarnings struct {
	row        any
	column, id string
}

// freshWarnings returns those warnings that are wanted and have not been sent, or only as less urgent, with the kind of the most urgent one,
// and notes that they are sent.
func (s *Store) freshWarnings(ctx context.Context, to sentWarnings, warnings []models.OpenWarning, wanted []string, at time.Time) (kind string, ids []string, err error) {
	for _, w := range warnings {
		of := mailOfGrade[w.Grade]
		if of == "" || !slices.Contains(wanted, of) {
			continue
		}
		var sent []string
		if err := s.db.WithContext(ctx).Model(to.row).Where(map[string]any{to.column: to.id, "warning": w.ID}).Pluck("grade", &sent).Error; err != nil {
			return "", nil, err
		}
		if slices.Contains(sent, w.Grade) || slices.Contains(sent, models.GradeActNow) {
			continue // also where it has become less urgent
		}
		if err := s.db.WithContext(ctx).Model(to.row).Create(map[string]any{to.column: to.id, "warning": w.ID, "grade": w.Grade, "at": ms(at)}).Error; err != nil {
			return "", nil, err
		}
		ids = append(ids, w.ID)
		if kind != models.MailActNow {
			kind = of
		}
	}
	return kind, ids, nil
}
