package store

import (
	"context"
	"strings"
	"time"

	"hotday/models"
)

type personRow struct {
	ID, Name, SignIn, Scopes, Site, SiteGroups, CreatedBy, Password string
	CreatedAt                                                       int64
	LinkUntil, SignedInAt                                           *int64
}

const personQuery = `SELECT p.id, t.name, p.sign_in, t.scopes, t.site, t.site_groups, t.created_at, p.created_by, p.password, p.link_until, p.signed_in_at
	FROM people p JOIN tokens t ON t.id = p.id WHERE p.removed_at IS NULL`

func (r personRow) person() models.Person {
	site, groups := reach(r.Site, r.SiteGroups)
	return models.Person{ID: r.ID, Name: r.Name, SignIn: r.SignIn, Scopes: strings.Fields(r.Scopes), Site: site, Groups: groups, CreatedAt: instant(r.CreatedAt),
		CreatedBy: r.CreatedBy, Ready: r.Password != "", LinkUntil: instantOrNil(r.LinkUntil), SignedInAt: instantOrNil(r.SignedInAt)}
}

// AddPerson adds the account and the token that holds its permissions, whose secret is discarded.
func (s *Store) AddPerson(ctx context.Context, p models.Person, at time.Time) (stored models.Person, code string, err error) {
	err = failed("add a person", s.alone(ctx, func(tx *Store) error {
		if _, taken, err := row[string](ctx, tx, "SELECT id FROM people WHERE sign_in = ? AND removed_at IS NULL", p.SignIn); err != nil || taken {
			if taken {
				err = models.Errorf(models.CodeConflict, "the sign-in name %q is taken", p.SignIn)
			}
			return err
		}
		t, _, err := tx.AddToken(ctx, models.Token{Kind: models.TokenPerson, Name: p.Name, Scopes: p.Scopes, Site: p.Site, Groups: p.Groups}, at)
		if err != nil {
			return err
		}
		if _, err := tx.exec(ctx, "INSERT INTO people (id, sign_in, password, created_by) VALUES (?, ?, '', ?)", t.ID, p.SignIn, p.CreatedBy); err != nil {
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
		if _, err := tx.exec(ctx, "UPDATE tokens SET name = ?, scopes = ?, site = ?, site_groups = ? WHERE id = ?", p.Name, strings.Join(p.Scopes, " "), site, groups, p.ID); err != nil {
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
		return tx.updatePerson(ctx, id, "UPDATE people SET link_hash = ?, link_until = ? WHERE id = ? AND removed_at IS NULL", hashOf(code), ms(at.Add(models.LinkTime)), id)
	}))
	if err != nil {
		return "", err
	}
	return code, nil
}

// updatePerson runs a statement that changes one person; CodeNotFound if it changes none.
func (s *Store) updatePerson(ctx context.Context, id, statement string, args ...any) error {
	n, err := s.exec(ctx, statement, args...)
	if err == nil && n == 0 {
		err = models.Errorf(models.CodeNotFound, "there is no person %q", id)
	}
	return err
}

// PersonByLink returns the person of a set-up link.
func (s *Store) PersonByLink(ctx context.Context, code string, at time.Time) (models.Person, error) {
	r, found, err := row[personRow](ctx, s, personQuery+" AND p.link_hash = ? AND p.link_until > ?", hashOf(code), ms(at))
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "this link has been used or has expired: ask for a new one")
	}
	return r.person(), failed("find a set-up link", err)
}

// SetPassword stores a password hash, closes the set-up link and ends the person's sessions.
func (s *Store) SetPassword(ctx context.Context, id, hash string) error {
	return failed("set a password", s.alone(ctx, func(tx *Store) error {
		if err := tx.updatePerson(ctx, id, "UPDATE people SET password = ?, link_hash = NULL, link_until = NULL WHERE id = ? AND removed_at IS NULL", hash, id); err != nil {
			return err
		}
		_, err := tx.exec(ctx, "DELETE FROM sessions WHERE token = ?", id)
		return err
	}))
}

// PasswordOf returns the person with a sign-in name and the password hash.
func (s *Store) PasswordOf(ctx context.Context, signIn string) (models.Person, string, error) {
	r, found, err := row[personRow](ctx, s, personQuery+" AND p.sign_in = ?", signIn)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no sign-in name %q", signIn)
	}
	return r.person(), r.Password, failed("find a person", err)
}

// SignedIn records the time of a sign-in.
func (s *Store) SignedIn(ctx context.Context, id string, at time.Time) error {
	return failed("record a sign-in", s.within(ctx, func(tx *Store) error {
		return tx.updatePerson(ctx, id, "UPDATE people SET signed_in_at = ? WHERE id = ? AND removed_at IS NULL", ms(at), id)
	}))
}

// Person returns a person by ID; removed people are not found.
func (s *Store) Person(ctx context.Context, id string) (models.Person, error) {
	r, found, err := row[personRow](ctx, s, personQuery+" AND p.id = ?", id)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no person %q", id)
	}
	return r.person(), failed("find a person", err)
}

// People returns all people who are not removed, by name.
func (s *Store) People(ctx context.Context) ([]models.Person, error) {
	list, err := rows[personRow](ctx, s, personQuery+" ORDER BY t.name, p.id")
	out := make([]models.Person, len(list))
	for i, r := range list {
		out[i] = r.person()
	}
	return out, failed("list people", err)
}

// RemovePerson removes an account with its e-mail address and devices, ends its sessions and revokes its token.
func (s *Store) RemovePerson(ctx context.Context, id string, at time.Time) error {
	return failed("remove a person", s.alone(ctx, func(tx *Store) error {
		if err := tx.updatePerson(ctx, id, "UPDATE people SET removed_at = ?, password = '', link_hash = NULL, link_until = NULL WHERE id = ? AND removed_at IS NULL",
			ms(at), id); err != nil {
			return err
		}
		if _, err := tx.exec(ctx, "DELETE FROM sessions WHERE token = ?", id); err != nil {
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
