package models

import (
	"context"
	"strings"
	"time"
)

// Screen is a paired wall screen. It shares the ID of its token, which has the scope kitchen at one site.
type Screen struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"`
	Site      string     `json:"site"`
	Stations  []string   `json:"stations"` // stations to show; empty: all
	PairedAt  time.Time  `json:"paired_at"`
	PairedBy  string     `json:"paired_by"`
	SeenAt    *time.Time `json:"seen_at"` // accurate to five minutes; null: it has not claimed its pairing yet
	RevokedAt *time.Time `json:"revoked_at"`
}

// Pairing is a new screen that shows its code until a manager enters it.
type Pairing struct {
	ID        string    `json:"id"`
	Code      string    `json:"code"`
	ExpiresAt time.Time `json:"expires_at"`
}

// Pairing codes use letters and digits that are hard to confuse from across a kitchen (no 0 O, 1 I L, 2 Z, 5 S, 6 G, 8 B, U V).
// Six of them give 86 million codes for at most MaxPairings open pairings, each valid for PairingTime.
const (
	PairingAlphabet = "ACDEFHJKMNPQRTWXY3479"
	PairingLength   = 6
	PairingTime     = 10 * time.Minute
	MaxPairings     = 500
)

// PairingCode normalises a typed code, in any case, with spaces or hyphens. ok is false for an impossible code.
func PairingCode(typed string) (code string, ok bool) {
	var b strings.Builder
	for _, r := range strings.ToUpper(typed) {
		switch {
		case r == ' ' || r == '-' || r == '\u00a0' || r == '\u202f':
		case strings.ContainsRune(PairingAlphabet, r):
			b.WriteRune(r)
		default:
			return "", false
		}
	}
	return b.String(), b.Len() == PairingLength
}

// ScreenStore stores wall screens and their pairings.
type ScreenStore interface {
	// BeginPairing opens a pairing for PairingTime and returns it with the secret that claims it, of which only a hash is stored.
	// CodeTooMany if MaxPairings are open.
	BeginPairing(ctx context.Context, at time.Time) (p Pairing, claim string, err error)
	// PairScreen redeems the code of an open pairing and gives the screen an ID and a token. CodeNotFound for a code that is
	// unknown, used or expired.
	PairScreen(ctx context.Context, code string, s Screen, at time.Time) (Screen, error)
	// ClaimPairing hands over a paired screen once; paired is false until the code has been entered. With bearer it also creates
	// and returns the secret of the screen's token. CodeNotFound if the pairing is unknown, expired, already claimed or revoked, or
	// the claim is wrong.
	ClaimPairing(ctx context.Context, id, claim string, bearer bool, at time.Time) (s Screen, secret string, paired bool, err error)
	// ChangeScreen changes name and stations.
	ChangeScreen(ctx context.Context, s Screen) (Screen, error)
	// Screen returns a screen by ID, revoked or not.
	Screen(ctx context.Context, id string) (Screen, error)
	Screens(ctx context.Context) ([]Screen, error) // oldest first, including revoked ones
	// TouchScreen updates SeenAt; IDs that are not of screens are ignored.
	TouchScreen(ctx context.Context, id string, at time.Time) error
}

// CalendarKey gives calendar programs, which cannot send a token, access to a site's feed. Of the key only a hash is stored.
type CalendarKey struct {
	MadeAt time.Time  `json:"made_at"`
	MadeBy string     `json:"made_by"`
	UsedAt *time.Time `json:"used_at"` // accurate to ten minutes
}

// CalendarKeyStore stores at most one calendar key per site, hashed.
type CalendarKeyStore interface {
	// PutCalendarKey replaces the site's key and returns the new one.
	PutCalendarKey(ctx context.Context, site, by string, at time.Time) (stored CalendarKey, key string, err error)
	// CalendarKey returns CodeNotFound if the site has none.
	CalendarKey(ctx context.Context, site string) (CalendarKey, error)
	// DeleteCalendarKey revokes the key, if there is one.
	DeleteCalendarKey(ctx context.Context, site string) error
	// CheckCalendarKey checks a site's key and updates UsedAt. CodeUnauthorised for a wrong key or an unknown site.
	CheckCalendarKey(ctx context.Context, site, key string, at time.Time) error
}
