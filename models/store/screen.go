package store

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/json"
	"math/big"
	"time"

	"github.com/oklog/ulid/v2"

	"hotday/models"
)

// seenAtResolution is how far seen_at may lag, so that screens do not cause a write with every request.
const seenAtResolution = 5 * time.Minute

type screenRow struct {
	ID, Site, Name, Stations, PairedBy string
	PairedAt                           int64
	SeenAt, RevokedAt                  *int64
}

const screenQuery = `SELECT s.id, s.site, s.name, s.stations, s.paired_at, s.paired_by, s.seen_at, t.revoked_at
	FROM screens s JOIN tokens t ON t.id = s.id`

func (r screenRow) screen() (models.Screen, error) {
	s := models.Screen{ID: r.ID, Site: r.Site, Name: r.Name, PairedAt: instant(r.PairedAt), PairedBy: r.PairedBy,
		SeenAt: instantOrNil(r.SeenAt), RevokedAt: instantOrNil(r.RevokedAt)}
	return s, json.Unmarshal([]byte(r.Stations), &s.Stations)
}

// BeginPairing opens a pairing with a unique code, of which it stores the hash.
func (s *Store) BeginPairing(ctx context.Context, at time.Time) (p models.Pairing, claim string, err error) {
	p = models.Pairing{ID: ulid.Make().String(), ExpiresAt: instant(ms(at.Add(models.PairingTime)))}
	claim = newSecret("")
	err = failed("begin a pairing", s.alone(ctx, func(tx *Store) error {
		if _, err := tx.exec(ctx, "DELETE FROM pairings WHERE expires_at <= ?", ms(at)); err != nil {
			return err
		}
		open, _, err := row[int](ctx, tx, "SELECT count(*) FROM pairings")
		if err != nil {
			return err
		}
		if open >= models.MaxPairings {
			return models.Errorf(models.CodeTooMany, "too many screens are waiting to be paired; try again in a few minutes")
		}
		for added := int64(0); added == 0; { // retry on a code that is in use
			p.Code = newPairingCode()
			if added, err = tx.exec(ctx, "INSERT INTO pairings (id, code_hash, claim_hash, expires_at) VALUES (?, ?, ?, ?) ON CONFLICT (code_hash) DO NOTHING",
				p.ID, hashOf(p.Code), hashOf(claim), ms(p.ExpiresAt)); err != nil {
				return err
			}
		}
		return nil
	}))
	if err != nil {
		return models.Pairing{}, "", err
	}
	return p, claim, nil
}

func newPairingCode() string {
	code, of := make([]byte, models.PairingLength), big.NewInt(int64(len(models.PairingAlphabet)))
	for i := range code {
		n, err := rand.Int(rand.Reader, of)
		if err != nil {
			panic(err) // rand.Reader never fails
		}
		code[i] = models.PairingAlphabet[n.Int64()]
	}
	return string(code)
}

type pairingRow struct {
	ID, CodeHash, ClaimHash string
	Screen                  *string
}

// PairScreen compares with every open code in constant time, so that timing reveals nothing about a guess.
func (s *Store) PairScreen(ctx context.Context, code string, screen models.Screen, at time.Time) (models.Screen, error) {
	stations, err := json.Marshal(append([]string{}, screen.Stations...))
	if err != nil {
		return models.Screen{}, err
	}
	err = s.changeAlone(ctx, "pair a screen", screen.Site, func(tx *Store, _ siteRow) error {
		open, err := rows[pairingRow](ctx, tx, "SELECT id, code_hash, claim_hash, screen FROM pairings WHERE expires_at > ? AND screen IS NULL", ms(at))
		if err != nil {
			return err
		}
		var id string
		for _, p := range open {
			if subtle.ConstantTimeCompare([]byte(p.CodeHash), []byte(hashOf(code))) == 1 {
				id = p.ID
			}
		}
		if id == "" {
			return models.Errorf(models.CodeNotFound, "no screen is showing this code: check the screen, the code changes every %d minutes", int(models.PairingTime.Minutes()))
		}
		t, _, err := tx.AddToken(ctx, models.Token{Kind: models.TokenScreen, Name: screen.Name, Scopes: []string{models.ScopeKitchen}, Site: screen.Site}, at)
		if err != nil {
			return err
		}
		screen.ID = t.ID
		if _, err := tx.exec(ctx, "INSERT INTO screens (id, site, name, stations, paired_at, paired_by) VALUES (?, ?, ?, ?, ?, ?)",
			t.ID, screen.Site, screen.Name, string(stations), ms(at), screen.PairedBy); err != nil {
			return err
		}
		if _, err := tx.exec(ctx, "UPDATE pairings SET screen = ? WHERE id = ?", t.ID, id); err != nil {
			return err
		}
		screen, err = tx.Screen(ctx, t.ID)
		return err
	})
	if err != nil {
		return models.Screen{}, err
	}
	return screen, nil
}

// ClaimPairing only reads until the code has been entered, since screens poll it.
func (s *Store) ClaimPairing(ctx context.Context, id, claim string, bearer bool, at time.Time) (screen models.Screen, secret string, paired bool, err error) {
	gone := models.Errorf(models.CodeNotFound, "this pairing does not exist or has expired: start a new one")
	find := func(tx *Store) (pairingRow, error) {
		p, found, err := row[pairingRow](ctx, tx, "SELECT id, code_hash, claim_hash, screen FROM pairings WHERE id = ? AND expires_at > ?", id, ms(at))
		if err == nil && (!found || subtle.ConstantTimeCompare([]byte(p.ClaimHash), []byte(hashOf(claim))) != 1) {
			err = gone
		}
		return p, err
	}
	if p, err := find(s); err != nil || p.Screen == nil {
		return screen, "", false, failed("find a pairing", err)
	}
	err = failed("claim a pairing", s.alone(ctx, func(tx *Store) error {
		p, err := find(tx)
		if err != nil {
			return err
		}
		if _, err := tx.exec(ctx, "DELETE FROM pairings WHERE id = ?", id); err != nil {
			return err
		}
		if _, err := tx.exec(ctx, "UPDATE screens SET seen_at = ? WHERE id = ?", ms(at), *p.Screen); err != nil {
			return err
		}
		if bearer {
			secret = newSecret("hotday_")
			if _, err := tx.exec(ctx, "UPDATE tokens SET hash = ? WHERE id = ?", hashOf(secret), *p.Screen); err != nil {
				return err
			}
		}
		if screen, err = tx.Screen(ctx, *p.Screen); err == nil && screen.RevokedAt != nil {
			err = gone
		}
		return err
	}))
	if err != nil {
		return models.Screen{}, "", false, err
	}
	return screen, secret, true, nil
}

// ChangeScreen changes a screen's name and stations.
func (s *Store) ChangeScreen(ctx context.Context, screen models.Screen) (changed models.Screen, err error) {
	stations, err := json.Marshal(append([]string{}, screen.Stations...))
	if err != nil {
		return changed, err
	}
	err = failed("change a screen", s.alone(ctx, func(tx *Store) error {
		if _, err := tx.exec(ctx, "UPDATE screens SET name = ?, stations = ? WHERE id = ?", screen.Name, string(stations), screen.ID); err != nil {
			return err
		}
		if _, err := tx.exec(ctx, "UPDATE tokens SET name = ? WHERE id = ? AND kind = 'screen'", screen.Name, screen.ID); err != nil {
			return err
		}
		changed, err = tx.Screen(ctx, screen.ID)
		return err
	}))
	return changed, err
}

// Screen returns a screen by ID.
func (s *Store) Screen(ctx context.Context, id string) (models.Screen, error) {
	r, found, err := row[screenRow](ctx, s, screenQuery+" WHERE s.id = ?", id)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no screen %q", id)
	}
	if err != nil {
		return models.Screen{}, failed("find a screen", err)
	}
	return r.screen()
}

// Screens returns all screens, including revoked ones, oldest first.
func (s *Store) Screens(ctx context.Context) ([]models.Screen, error) {
	list, err := rows[screenRow](ctx, s, screenQuery+" ORDER BY s.paired_at, s.id")
	if err != nil {
		return nil, failed("list screens", err)
	}
	out := make([]models.Screen, len(list))
	for i, r := range list {
		if out[i], err = r.screen(); err != nil {
			return nil, failed("read a screen", err)
		}
	}
	return out, nil
}

// TouchScreen updates seen_at at most every seenAtResolution.
func (s *Store) TouchScreen(ctx context.Context, id string, at time.Time) error {
	stale, found, err := row[int](ctx, s, "SELECT 1 FROM screens WHERE id = ? AND (seen_at IS NULL OR seen_at <= ?)", id, ms(at.Add(-seenAtResolution)))
	if err != nil || !found || stale == 0 {
		return failed("read when a screen was seen", err)
	}
	return failed("record when a screen was seen", s.within(ctx, func(tx *Store) error {
		_, err := tx.exec(ctx, "UPDATE screens SET seen_at = ? WHERE id = ?", ms(at), id)
		return err
	}))
}
