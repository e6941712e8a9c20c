package models

import (
	"context"
	"strings"
	"time"
)

// Screen is a wall screen that was paired. Its id is that of the token that it holds: of one site, with the scope kitchen.
type Screen struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"`
	Site      string     `json:"site"`
	Stations  []string   `json:"stations"` // whose tasks it shows; empty: all
	PairedAt  time.Time  `json:"paired_at"`
	PairedBy  string     `json:"paired_by"`
	SeenAt    *time.Time `json:"seen_at"` // to five minutes; null: it has not come for its right yet
	RevokedAt *time.Time `json:"revoked_at"`
}

// Pairing is a new screen that shows its code and waits for a manager to type it in.
type Pairing struct {
	ID        string    `json:"id"`
	Code      string    `json:"code"`
	ExpiresAt time.Time `json:"expires_at"`
}

// Codes of pairings: letters and digits that nobody takes for one another from across a kitchen (without 0 O, 1 I L, 2 Z, 5 S,
// 6 G, 8 B, U V), six of them: 86 million codes for at most MaxPairings that are open for PairingTime.
const (
	PairingAlphabet = "ACDEFHJKMNPQRTWXY3479"
	PairingLength   = 6
	PairingTime     = 10 * time.Minute
	MaxPairings     = 500
)

// PairingCode reads a code as somebody typed it: in any case, with spaces or hyphens. ok is false for what no screen can show.
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

// ScreenStore keeps wall screens and how they are paired.
type ScreenStore interface {
	// BeginPairing keeps a new pairing for PairingTime and returns it with the secret by which its screen claims it, which is not
	// kept. CodeTooMany where MaxPairings are open.
	BeginPairing(ctx context.Context, at time.Time) (p Pairing, claim string, err error)
	// PairScreen uses up the code of an open pairing: the screen gets its id and a token of its own. CodeNotFound for a code that
	// no screen shows, that was used or whose time is over.
	PairScreen(ctx context.Context, code string, s Screen, at time.Time) (Screen, error)
	// ClaimPairing hands a paired screen its right, once: paired is false while nobody has typed the code. With bearer the
	// secret of its token is made and returned. CodeNotFound where the pairing is unknown, over, claimed before, revoked, or
	// the claim is another's.
	ClaimPairing(ctx context.Context, id, claim string, bearer bool, at time.Time) (s Screen, secret string, paired bool, err error)
	// ChangeScreen changes name and stations.
	ChangeScreen(ctx context.Context, s Screen) (Screen, error)
	// Screen returns a screen, revoked or not, by its id, which is its token's.
	Screen(ctx context.Context, id string) (Screen, error)
	Screens(ctx context.Context) ([]Screen, error) // revoked ones too, oldest first
	// SawScreen notes that a screen is there; of others' tokens nothing is noted.
	SawScreen(ctx context.Context, id string, at time.Time) error
}

// CalendarKey is what opens the calendar feed of a site to programs that can send no token. The key itself is not kept.
type CalendarKey struct {
	MadeAt time.Time  `json:"made_at"`
	MadeBy string     `json:"made_by"`
	UsedAt *time.Time `json:"used_at"` // to ten minutes
}

// CalendarKeyStore keeps at most one calendar key a site, hashed.
type CalendarKeyStore interface {
	// PutCalendarKey makes a key in place of any before and returns it.
	PutCalendarKey(ctx context.Context, site, by string, at time.Time) (kept CalendarKey, key string, err error)
	// CalendarKey is CodeNotFound where the site has none.
	CalendarKey(ctx context.Context, site string) (CalendarKey, error)
	// DeleteCalendarKey takes the key back; one that is not there is no error.
	DeleteCalendarKey(ctx context.Context, site string) error
	// CheckCalendarKey notes the use of a site's key. CodeUnauthorised for another key, and where there is no such site.
	CheckCalendarKey(ctx context.Context, site, key string, at time.Time) error
}
