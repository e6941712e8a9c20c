package store

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"math/big"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

// seenAtResolution is how far seen_at may lag, so that screens do not cause a write with every request.
const seenAtResolution = 5 * time.Minute

// screenRow is a screen by the ID of its token.
type screenRow struct {
	ID       string
	Site     string
	Name     string
	Stations []string `gorm:"serializer:json"`
	PairedAt int64
	PairedBy string
	SeenAt   *int64
}

func (screenRow) TableName() string { return "screens" }

// listedScreen is a screen with the revocation of its token.
type listedScreen struct {
	Screen    screenRow `gorm:"embedded"`
	RevokedAt *int64
}

// listedScreens are all screens.
func (s *Store) listedScreens(ctx context.Context) *gorm.DB {
	return s.db.WithContext(ctx).Model(screenRow{}).Joins("JOIN tokens ON tokens.id = screens.id").
		Select("screens.id, screens.site, screens.name, stations, paired_at, paired_by, seen_at, revoked_at")
}

func (r listedScreen) screen() models.Screen {
	x := r.Screen
	return models.Screen{ID: x.ID, Site: x.Site, Name: x.Name, Stations: x.Stations, PairedAt: instant(x.PairedAt), PairedBy: x.PairedBy,
		SeenAt: instantOrNil(x.SeenAt), RevokedAt: instantOrNil(r.RevokedAt)}
}

// pairingRow is a new screen that shows its code, until it has got its key or its time is over.
type pairingRow struct {
	ID        string
	CodeHash  string
	ClaimHash string
	ExpiresAt int64
	Screen    *string // once a manager has entered the code
}

func (pairingRow) TableName() string { return "pairings" }

// BeginPairing opens a pairing with a unique code, of which it stores the hash.
func (s *Store) BeginPairing(ctx context.Context, at time.Time) (p models.Pairing, claim string, err error) {
	p = models.Pairing{ID: ulid.Make().String(), ExpiresAt: instant(ms(at.Add(models.PairingTime)))}
	claim = newSecret("")
	err = failed("begin a pairing", s.alone(ctx, func(tx *Store) error {
		if _, err := gorm.G[pairingRow](tx.db).Where("expires_at <= ?", ms(at)).Delete(ctx); err != nil {
			return err
		}
		open, err := gorm.G[pairingRow](tx.db).Count(ctx, "id")
		if err != nil {
			return err
		}
		if open >= models.MaxPairings {
			return models.Errorf(models.CodeTooMany, "too many screens are waiting to be paired; try again in a few minutes")
		}
		unusedCode := clause.OnConflict{Columns: []clause.Column{{Name: "code_hash"}}, DoNothing: true}
		for added := gorm.WithResult(); added.RowsAffected == 0; { // retry on a code that is in use
			p.Code = newPairingCode()
			if err := gorm.G[pairingRow](tx.db, unusedCode, added).Create(ctx, &pairingRow{ID: p.ID, CodeHash: hashOf(p.Code), ClaimHash: hashOf(claim),
				ExpiresAt: ms(p.ExpiresAt)}); err != nil {
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

// PairScreen compares with every open code in constant time, so that timing reveals nothing about a guess.
func (s *Store) PairScreen(ctx context.Context, code string, screen models.Screen, at time.Time) (models.Screen, error) {
	err := s.changeAlone(ctx, "pair a screen", screen.Site, func(tx *Store, _ siteRow) error {
		open, err := gorm.G[pairingRow](tx.db).Where("expires_at > ? AND screen IS NULL", ms(at)).Find(ctx)
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
		if err := gorm.G[screenRow](tx.db).Create(ctx, &screenRow{ID: t.ID, Site: screen.Site, Name: screen.Name, Stations: append([]string{}, screen.Stations...),
			PairedAt: ms(at), PairedBy: screen.PairedBy}); err != nil {
			return err
		}
		if _, err := gorm.G[pairingRow](tx.db).Where("id = ?", id).Update(ctx, "screen", t.ID); err != nil {
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
		p, found, err := one(gorm.G[pairingRow](tx.db).Where("id = ? AND expires_at > ?", id, ms(at)).Take(ctx))
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
		if _, err := gorm.G[pairingRow](tx.db).Where("id = ?", id).Delete(ctx); err != nil {
			return err
		}
		if _, err := gorm.G[screenRow](tx.db).Where("id = ?", *p.Screen).Update(ctx, "seen_at", ms(at)); err != nil {
			return err
		}
		if bearer {
			secret = newSecret("hotday_")
			if _, err := gorm.G[tokenRow](tx.db).Where("id = ?", *p.Screen).Update(ctx, "hash", hashOf(secret)); err != nil {
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
	err = failed("change a screen", s.alone(ctx, func(tx *Store) error {
		if _, err := gorm.G[screenRow](tx.db).Where("id = ?", screen.ID).Select("name", "stations").
			Updates(ctx, screenRow{Name: screen.Name, Stations: append([]string{}, screen.Stations...)}); err != nil {
			return err
		}
		if _, err := gorm.G[tokenRow](tx.db).Where("id = ? AND kind = ?", screen.ID, models.TokenScreen).Update(ctx, "name", screen.Name); err != nil {
			return err
		}
		changed, err = tx.Screen(ctx, screen.ID)
		return err
	}))
	return changed, err
}

// Screen returns a screen by ID.
func (s *Store) Screen(ctx context.Context, id string) (models.Screen, error) {
	var r listedScreen
	_, found, err := one(r, s.listedScreens(ctx).Where("screens.id = ?", id).Take(&r).Error)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no screen %q", id)
	}
	if err != nil {
		return models.Screen{}, failed("find a screen", err)
	}
	return r.screen(), nil
}

// Screens returns all screens, including revoked ones, oldest first.
func (s *Store) Screens(ctx context.Context) ([]models.Screen, error) {
	var list []listedScreen
	err := s.listedScreens(ctx).Order("paired_at, screens.id").Find(&list).Error
	return append([]models.Screen{}, nouns(list, listedScreen.screen)...), failed("list screens", err)
}

// TouchScreen updates seen_at at most every seenAtResolution.
func (s *Store) TouchScreen(ctx context.Context, id string, at time.Time) error {
	_, stale, err := one(gorm.G[screenRow](s.db).Where("id = ? AND (seen_at IS NULL OR seen_at <= ?)", id, ms(at.Add(-seenAtResolution))).Take(ctx))
	if err != nil || !stale {
		return failed("read when a screen was seen", err)
	}
	return failed("record when a screen was seen", s.within(ctx, func(tx *Store) error {
		_, err := gorm.G[screenRow](tx.db).Where("id = ?", id).Update(ctx, "seen_at", ms(at))
		return err
	}))
}
