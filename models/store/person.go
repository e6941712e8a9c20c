package store

import (
	"context"
	"strings"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

// personRow is a person's account, by the ID of the token that holds their name and permissions.
type personRow struct {
	ID         string
	SignIn     string
	Password   string // Argon2id; empty: none chosen yet
	LinkHash   *string
	LinkUntil  *int64
	CreatedBy  string
	SignedInAt *int64
	RemovedAt  *int64
}

func (personRow) TableName() string { return "people" }

// account is a person with the columns of their token.
type account struct {
	ID, Name, SignIn, Scopes, Site, SiteGroups, CreatedBy, Password string
	CreatedAt                                                       int64
	LinkUntil, SignedInAt                                           *int64
}

// accounts are those of all people who are not removed.
func (s *Store) accounts(ctx context.Context) *gorm.DB {
	return s.db.WithContext(ctx).Model(personRow{}).Joins("JOIN tokens ON tokens.id = people.id").Where("people.removed_at IS NULL").
		Select("people.id, name, sign_in, scopes, site, site_groups, created_at, created_by, password, link_until, signed_in_at")
}

// account returns the account that meets a condition.
func (s *Store) account(ctx context.Context, condition string, args ...any) (account, bool, error) {
	var r account
	return one(r, s.accounts(ctx).Where(condition, args...).Take(&r).Error)
}

func (r account) person() models.Person {
	site, groups := reach(r.Site, r.SiteGroups)
	return models.Person{ID: r.ID, Name: r.Name, SignIn: r.SignIn, Scopes: strings.Fields(r.Scopes), Site: site, Groups: groups, CreatedAt: instant(r.CreatedAt),
		CreatedBy: r.CreatedBy, Ready: r.Password != "", LinkUntil: instantOrNil(r.LinkUntil), SignedInAt: instantOrNil(r.SignedInAt)}
}

// AddPerson adds the account and the token that holds its permissions, whose secret is discarded.
func (s *Store) AddPerson(ctx context.Context, p models.Person, at time.Time) (stored models.Person, code string, err error) {
	err = failed("add a person", s.alone(ctx, func(tx *Store) error {
		if _, taken, err := tx.account(ctx, "sign_in = ?", p.SignIn); err != nil || taken {
			if taken {
				err = models.Errorf(models.CodeConflict, "the sign-in name %q is taken", p.SignIn)
			}
			return err
		}
		t, _, err := tx.AddToken(ctx, models.Token{Kind: models.TokenPerson, Name: p.Name, Scopes: p.Scopes, Site: p.Site, Groups: p.Groups}, at)
		if err != nil {
			return err
		}
		if err := gorm.G[personRow](tx.db).Create(ctx, &personRow{ID: t.ID, SignIn: p.SignIn, CreatedBy: p.CreatedBy}); err != nil {
			return err
		}
		if code, err = tx.NewLink(ctx, t.ID, at); err != nil {
			return err
		}
		stored, err = tx.Person(ctx, t.ID)
		return err
	}))
	if err != nil {
		return models.Person{}, "", err
	}
	return stored, code, nil
}

// ChangePerson changes a person's name and permissions, effective from the next request.
func (s *Store) ChangePerson(ctx context.Context, p models.Person) (changed models.Person, err error) {
	err = failed("change a person", s.alone(ctx, func(tx *Store) error {
		if _, err := tx.Person(ctx, p.ID); err != nil {
			return err
		}
		if err := tx.checkReach(ctx, p.Site, p.Groups); err != nil {
			return err
		}
		site, groups := storedReach(p.Site, p.Groups)
		if _, err := gorm.G[tokenRow](tx.db).Where("id = ?", p.ID).
			Set(columns{"name": p.Name, "scopes": strings.Join(p.Scopes, " "), "site": site, "site_groups": groups}).Update(ctx); err != nil {
			return err
		}
		changed, err = tx.Person(ctx, p.ID)
		return err
	}))
	return changed, err
}

// NewLink replaces the set-up link and returns its code.
func (s *Store) NewLink(ctx context.Context, id string, at time.Time) (code string, err error) {
	code = newSecret("")
	err = failed("store a set-up link", s.within(ctx, func(tx *Store) error {
		return tx.updatePerson(ctx, id, columns{"link_hash": hashOf(code), "link_until": ms(at.Add(models.LinkTime))})
	}))
	if err != nil {
		return "", err
	}
	return code, nil
}

// updatePerson changes a person; CodeNotFound if there is none.
func (s *Store) updatePerson(ctx context.Context, id string, to columns) error {
	n, err := gorm.G[personRow](s.db).Where("id = ? AND removed_at IS NULL", id).Set(to).Update(ctx)
	if err == nil && n == 0 {
		err = models.Errorf(models.CodeNotFound, "there is no person %q", id)
	}
	return err
}

// PersonByLink returns the person of a set-up link.
func (s *Store) PersonByLink(ctx context.Context, code string, at time.Time) (models.Person, error) {
	r, found, err := s.account(ctx, "link_hash = ? AND link_until > ?", hashOf(code), ms(at))
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "this link has been used or has expired: ask for a new one")
	}
	return r.person(), failed("find a set-up link", err)
}

// SetPassword stores a password hash, closes the set-up link and ends the person's sessions.
func (s *Store) SetPassword(ctx context.Context, id, hash string) error {
	return failed("set a password", s.alone(ctx, func(tx *Store) error {
		if err := tx.updatePerson(ctx, id, columns{"password": hash, "link_hash": nil, "link_until": nil}); err != nil {
			return err
		}
		_, err := gorm.G[sessionRow](tx.db).Where("token = ?", id).Delete(ctx)
		return err
	}))
}

// PasswordOf returns the person with a sign-in name and the password hash.
func (s *Store) PasswordOf(ctx context.Context, signIn string) (models.Person, string, error) {
	r, found, err := s.account(ctx, "sign_in = ?", signIn)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no sign-in name %q", signIn)
	}
	return r.person(), r.Password, failed("find a person", err)
}

// SignedIn records the time of a sign-in.
func (s *Store) SignedIn(ctx context.Context, id string, at time.Time) error {
	return failed("record a sign-in", s.within(ctx, func(tx *Store) error {
		return tx.updatePerson(ctx, id, columns{"signed_in_at": ms(at)})
	}))
}

// Person returns a person by ID; removed people are not found.
func (s *Store) Person(ctx context.Context, id string) (models.Person, error) {
	r, found, err := s.account(ctx, "people.id = ?", id)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no person %q", id)
	}
	return r.person(), failed("find a person", err)
}

// People returns all people who are not removed, by name.
func (s *Store) People(ctx context.Context) ([]models.Person, error) {
	var list []account
	err := s.accounts(ctx).Order("name, people.id").Find(&list).Error
	return append([]models.Person{}, nouns(list, account.person)...), failed("list people", err)
}

// RemovePerson removes an account with its e-mail address and devices, ends its sessions and revokes its token.
func (s *Store) RemovePerson(ctx context.Context, id string, at time.Time) error {
	return failed("remove a person", s.alone(ctx, func(tx *Store) error {
		if err := tx.updatePerson(ctx, id, columns{"removed_at": ms(at), "password": "", "link_hash": nil, "link_until": nil}); err != nil {
			return err
		}
		if _, err := gorm.G[sessionRow](tx.db).Where("token = ?", id).Delete(ctx); err != nil {
			return err
		}
		if err := tx.removeMail(ctx, id); err != nil {
			return err
		}
		if err := tx.removePush(ctx, id); err != nil {
			return err
		}
		return tx.RevokeToken(ctx, id, at)
	}))
}
