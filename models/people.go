package models

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Person is an account: somebody who signs in by a name and a password. Its id is that of the token that says what it may do.
type Person struct {
	ID         string     `json:"id"`
	Name       string     `json:"name"`
	SignIn     string     `json:"sign_in"` // an e-mail address or a short name, in small letters
	Scopes     []string   `json:"scopes"`
	Site       string     `json:"site"` // empty: the whole organisation
	CreatedAt  time.Time  `json:"created_at"`
	CreatedBy  string     `json:"created_by"`
	Ready      bool       `json:"ready"`      // has chosen a password
	LinkUntil  *time.Time `json:"link_until"` // a set-up link is open so long
	SignedInAt *time.Time `json:"signed_in_at"`
}

// LinkTime is how long a set-up link opens.
const LinkTime = 72 * time.Hour

var signInForm = regexp.MustCompile(`^[\p{Ll}\p{Lo}\p{N}][\p{Ll}\p{Lo}\p{N}._+@-]*$`)

// SignInName brings a name as it was typed into the one form that is kept. ok is false for what cannot be one.
func SignInName(typed string) (name string, ok bool) {
	name = strings.ToLower(norm.NFKC.String(strings.TrimSpace(typed)))
	n := utf8.RuneCountInString(name)
	return name, n >= 2 && n <= 200 && signInForm.MatchString(name)
}

// Bounds of a password: NIST SP 800-63B-4 asks for 15 characters where the password is all that is asked, for room for 64, for no
// rules of composition and no end date, and for a list of what is not taken (from memory).
const (
	MinPassword = 15
	MaxPassword = 256
)

// Password brings a password into the form that is hashed: the same letters typed on another keyboard are the same password.
func Password(typed string) string { return norm.NFKC.String(typed) }

// worn are words that guessers try first, with the rows of keyboards.
var worn = []string{"password", "passwort", "passphrase", "letmein", "welcome", "iloveyou", "dragon", "monkey", "sunshine", "princess", "football",
	"baseball", "superman", "trustno", "changeme", "secret", "admin", "manager", "kitchen", "coffee", "summer", "winter", "hotday", "1q2w3e4r5t6y7u8i9o0p",
	"1qaz2wsx3edc4rfv", "qwertyuiop", "qwertzuiop", "azertyuiop", "asdfghjkl", "zxcvbnm", "yxcvbnm", "qwerty", "qwertz", "azerty", "asdfgh", "1q2w3e4r", "1qaz2wsx"}

// leftOver is how many characters must be left when worn words, the person's own, and runs such as 12345 are taken out.
const leftOver = 8

// CheckPassword refuses a password that is too short, too long, or easy to guess. Known are words that a guesser of this
// person's password would try: the names of the person and of the shop.
func CheckPassword(password string, known ...string) error {
	password = Password(password)
	const accepted = "15 to 256 characters of any kind, such as a few words that belong together only for you"
	switch n := utf8.RuneCountInString(password); {
	case !utf8.ValidString(password):
		return Invalid("/password", accepted, "the password is no text")
	case n < MinPassword:
		return Invalid("/password", accepted, "the password has %d characters", n)
	case n > MaxPassword:
		return Invalid("/password", accepted, "the password has %d characters", n)
	}
	left := strings.ToLower(password)
	for _, w := range known {
		for _, part := range strings.FieldsFunc(strings.ToLower(w), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			if utf8.RuneCountInString(part) >= 3 {
				left = strings.ReplaceAll(left, part, "")
			}
		}
	}
	for _, w := range worn {
		left = strings.ReplaceAll(left, w, "")
	}
	if utf8.RuneCountInString(withoutRuns(withoutRepeats(left))) < leftOver {
		return Invalid("/password", accepted, "the password is easy to guess: it is made of known words, names, rows of keys or repetitions")
	}
	return nil
}

// withoutRepeats leaves one of what a text repeats as a whole.
func withoutRepeats(s string) string {
	r := []rune(s)
	for n := 1; n <= len(r)/2; n++ {
		same := true
		for i := n; i < len(r) && same; i++ {
			same = r[i] == r[i-n]
		}
		if same {
			return string(r[:n])
		}
	}
	return s
}

// withoutRuns leaves the first of each run of neighbours such as aaaa, 1234 or dcba.
func withoutRuns(s string) string {
	r := []rune(s)
	var out []rune
	for i, x := range r {
		if i > 0 {
			if d := x - r[i-1]; d >= -1 && d <= 1 {
				continue
			}
		}
		out = append(out, x)
	}
	return string(out)
}

// PersonStore keeps accounts. A person's rights are those of the token with the same id; revoking it removes the person.
type PersonStore interface {
	// AddPerson makes an account without a password and its set-up link's code, which is not kept. CodeConflict where somebody
	// signs in by this name.
	AddPerson(ctx context.Context, p Person, at time.Time) (kept Person, code string, err error)
	// ChangePerson changes name, scopes and site.
	ChangePerson(ctx context.Context, p Person) (Person, error)
	// NewLink makes a set-up link in place of any before; the password stays until the link is used.
	NewLink(ctx context.Context, id string, at time.Time) (code string, err error)
	// PersonByLink finds whose open link a code is; CodeNotFound where it is used, over or unknown.
	PersonByLink(ctx context.Context, code string, at time.Time) (Person, error)
	// SetPassword keeps the hash of a password, closes the link, and ends all sessions of the person.
	SetPassword(ctx context.Context, id, hash string) error
	// PasswordOf returns the hash of a person's password, "" while there is none. CodeNotFound for a name that nobody has.
	PasswordOf(ctx context.Context, signIn string) (p Person, hash string, err error)
	SignedIn(ctx context.Context, id string, at time.Time) error
	Person(ctx context.Context, id string) (Person, error)
	People(ctx context.Context) ([]Person, error) // those that are not removed, by name
	// RemovePerson ends an account and its sessions; the name may be given again.
	RemovePerson(ctx context.Context, id string, at time.Time) error
}

// Session is a browser that is signed in.
type Session struct {
	ID        string    `json:"id"`
	Token     string    `json:"token"` // whose right it has
	Name      string    `json:"name"`  // of the person or access key
	Site      string    `json:"site"`
	CreatedAt time.Time `json:"created_at"`
	SeenAt    time.Time `json:"seen_at"` // to ten minutes
	ExpiresAt time.Time `json:"expires_at"`
	Browser   string    `json:"browser"` // as it names itself
	Current   bool      `json:"current"` // the one that asks
}

// AuditEntry says who changed what.
type AuditEntry struct {
	ID      int64     `json:"id"`
	At      time.Time `json:"at"`
	By      string    `json:"by"`       // name of the person, screen or access key
	ByToken string    `json:"by_token"` // its id
	Site    string    `json:"site"`     // empty: the organisation
	Action  string    `json:"action"`
	Subject string    `json:"subject"`
}

// Actions of the audit.
const (
	DidSetUp          = "set_up"
	DidPublish        = "published"
	DidSetAside       = "plan_set_aside"
	DidAddPerson      = "person_added"
	DidChangePerson   = "person_changed"
	DidRemovePerson   = "person_removed"
	DidMakeLink       = "link_made"
	DidSetPassword    = "password_set"
	DidMakeToken      = "token_made"
	DidRevokeToken    = "token_revoked"
	DidPairScreen     = "screen_paired"
	DidChangeScreen   = "screen_changed"
	DidRevokeScreen   = "screen_revoked"
	DidMakeCalendar   = "calendar_key_made"
	DidRevokeCalendar = "calendar_key_revoked"
	DidAddWebhook     = "webhook_added"
	DidRemoveWebhook  = "webhook_removed"
	DidReplayDelivery = "delivery_replayed"
	DidEndSession     = "session_ended"
)

// AuditStore keeps who changed what; nothing in it is changed or removed.
type AuditStore interface {
	AddAudit(ctx context.Context, e AuditEntry) error
	// Audit returns entries newest first; site "" those of all sites, else of that site alone.
	Audit(ctx context.Context, site string, p Page) (Rows[AuditEntry], error)
}

// Scopes in the order in which people read them.
var scopes = []string{ScopeManage, ScopeKitchen, ScopeSales, ScopeRead}

// SortedScopes returns each of the scopes once, the widest first.
func SortedScopes(list []string) []string {
	var out []string
	for _, s := range scopes {
		if slices.Contains(list, s) {
			out = append(out, s)
		}
	}
	return out
}
