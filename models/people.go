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

// Person is an account that signs in with a name and a password. It shares the ID of the token that holds its permissions.
type Person struct {
	ID         string     `json:"id"`
	Name       string     `json:"name"`
	SignIn     string     `json:"sign_in"` // e-mail address or short name, in lower case
	Scopes     []string   `json:"scopes"`
	Site       string     `json:"site"`   // empty: that of the groups or, without groups, the whole organisation
	Groups     []string   `json:"groups"` // codes of groups whose sites the person reaches, beside site
	CreatedAt  time.Time  `json:"created_at"`
	CreatedBy  string     `json:"created_by"`
	Ready      bool       `json:"ready"`      // has chosen a password
	LinkUntil  *time.Time `json:"link_until"` // expiry of an open set-up link
	SignedInAt *time.Time `json:"signed_in_at"`
}

// LinkTime is the lifetime of a set-up link.
const LinkTime = 72 * time.Hour

var signInPattern = regexp.MustCompile(`^[\p{Ll}\p{Lo}\p{N}][\p{Ll}\p{Lo}\p{N}._+@-]*$`)

// SignInName normalises a sign-in name: NFKC, lower case, trimmed. ok is false for an invalid name.
func SignInName(typed string) (name string, ok bool) {
	name = strings.ToLower(norm.NFKC.String(strings.TrimSpace(typed)))
	n := utf8.RuneCountInString(name)
	return name, n >= 2 && n <= 200 && signInPattern.MatchString(name)
}

// Password lengths in characters. NIST SP 800-63B-4 requires at least 15 where the password is the only factor, support for at
// least 64, no composition rules, no expiry, and a blocklist (from memory).
const (
	MinPassword = 15
	MaxPassword = 256
)

// Password normalises a password (NFKC) before hashing, so that it does not depend on the keyboard it is typed on.
func Password(typed string) string { return norm.NFKC.String(typed) }

// commonPasswords are words that guessers try first, and rows of keyboards.
var commonPasswords = []string{"password", "passwort", "passphrase", "letmein", "welcome", "iloveyou", "dragon", "monkey", "sunshine", "princess", "football",
	"baseball", "superman", "trustno", "changeme", "secret", "admin", "manager", "kitchen", "coffee", "summer", "winter", "hotday", "1q2w3e4r5t6y7u8i9o0p",
	"1qaz2wsx3edc4rfv", "qwertyuiop", "qwertzuiop", "azertyuiop", "asdfghjkl", "zxcvbnm", "yxcvbnm", "qwerty", "qwertz", "azerty", "asdfgh", "1q2w3e4r", "1qaz2wsx"}

// minRemaining is how many characters must remain once common passwords, the person's own words, and runs such as 12345 are removed.
const minRemaining = 8

// CheckPassword rejects a password that is too short, too long, known from leaks or easy to guess. known are words specific to the person that a
// guesser would try, such as the names of the person and of the shop.
func CheckPassword(password string, known ...string) error {
	password = Password(password)
	const accepted = "15 to 256 characters of any kind, such as a few words that only you would put together"
	switch n := utf8.RuneCountInString(password); {
	case !utf8.ValidString(password):
		return Invalid("/password", accepted, "the password is not valid text")
	case n < MinPassword:
		return Invalid("/password", accepted, "the password has %d characters", n)
	case n > MaxPassword:
		return Invalid("/password", accepted, "the password has %d characters", n)
	case isLeaked(password):
		return Invalid("/password", accepted, "the password is known from published leaks, which guessers try first")
	}
	left := strings.ToLower(password)
	for _, w := range known {
		for _, part := range strings.FieldsFunc(strings.ToLower(w), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			if utf8.RuneCountInString(part) >= 3 {
				left = strings.ReplaceAll(left, part, "")
			}
		}
	}
	for _, w := range commonPasswords {
		left = strings.ReplaceAll(left, w, "")
	}
	if utf8.RuneCountInString(withoutRuns(withoutRepeats(left))) < minRemaining {
		return Invalid("/password", accepted, "the password is easy to guess: it is made up of common words, names, keyboard rows or repetition")
	}
	return nil
}

// withoutRepeats reduces a text that repeats one unit to that unit.
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

// withoutRuns reduces each run such as aaaa, 1234 or dcba to its first character.
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

// PersonStore stores accounts. A person's permissions are those of the token with the same ID; revoking it removes the person.
type PersonStore interface {
	// AddPerson adds an account without a password and returns the code of its set-up link, of which only a hash is stored.
	// CodeConflict if the sign-in name is taken.
	AddPerson(ctx context.Context, p Person, at time.Time) (stored Person, code string, err error)
	// ChangePerson changes name, scopes, site and groups.
	ChangePerson(ctx context.Context, p Person) (Person, error)
	// NewLink replaces the person's set-up link; the password stays valid until the link is used.
	NewLink(ctx context.Context, id string, at time.Time) (code string, err error)
	// PersonByLink returns the person of an open set-up link; CodeNotFound if the code is used, expired or unknown.
	PersonByLink(ctx context.Context, code string, at time.Time) (Person, error)
	// SetPassword stores a password hash, closes the set-up link, and ends all sessions of the person.
	SetPassword(ctx context.Context, id, hash string) error
	// PasswordOf returns a person's password hash, "" if none is set. CodeNotFound for an unknown name.
	PasswordOf(ctx context.Context, signIn string) (p Person, hash string, err error)
	SignedIn(ctx context.Context, id string, at time.Time) error
	Person(ctx context.Context, id string) (Person, error)
	People(ctx context.Context) ([]Person, error) // by name, without removed ones
	// RemovePerson ends an account and its sessions; the name may be given again.
	RemovePerson(ctx context.Context, id string, at time.Time) error
}

// SessionIdle is how long a session of a person or an access key outlives its last request; wall screens keep theirs.
const SessionIdle = 14 * 24 * time.Hour

// Session is a signed-in browser.
type Session struct {
	ID        string    `json:"id"`
	Token     string    `json:"token"` // ID of the token that it acts for
	Name      string    `json:"name"`  // of the person or access key
	Site      string    `json:"site"`
	Groups    []string  `json:"groups"` // of the person or access key
	CreatedAt time.Time `json:"created_at"`
	SeenAt    time.Time `json:"seen_at"`    // accurate to ten minutes
	ExpiresAt time.Time `json:"expires_at"` // without a further request
	Browser   string    `json:"browser"`    // user agent
	Address   string    `json:"address"`    // of the browser at sign-in; empty: not known
	Current   bool      `json:"current"`    // the session of this request
}

// AuditEntry records who changed what.
type AuditEntry struct {
	ID      int64     `json:"id"`
	At      time.Time `json:"at"`
	By      string    `json:"by"`       // name of the person, screen or access key
	ByToken string    `json:"by_token"` // its ID
	Site    string    `json:"site"`     // empty: the organisation
	Action  string    `json:"action"`
	Subject string    `json:"subject"`
}

// Actions in the audit log.
const (
	AuditSetUp          = "set_up"
	AuditPublish        = "published"
	AuditSetAside       = "plan_set_aside"
	AuditAddPerson      = "person_added"
	AuditChangePerson   = "person_changed"
	AuditRemovePerson   = "person_removed"
	AuditMakeLink       = "link_made"
	AuditSetPassword    = "password_set"
	AuditMakeToken      = "token_made"
	AuditRevokeToken    = "token_revoked"
	AuditPairScreen     = "screen_paired"
	AuditChangeScreen   = "screen_changed"
	AuditRevokeScreen   = "screen_revoked"
	AuditMakeCalendar   = "calendar_key_made"
	AuditRevokeCalendar = "calendar_key_revoked"
	AuditAddWebhook     = "webhook_added"
	AuditRemoveWebhook  = "webhook_removed"
	AuditReplayDelivery = "delivery_replayed"
	AuditSignOff        = "signed_off"
	AuditErasePerson    = "person_erased"
	AuditExportSite     = "site_exported"
	AuditDeleteSite     = "site_deleted"
	AuditChangeGroup    = "group_changed"
	AuditDropGroup      = "group_deleted"
	AuditResetPerson    = "person_reset" // on the service's machine
	AuditEndSession     = "session_ended"
	AuditChangeMail     = "mail_changed"
	AuditConfirmMail    = "mail_confirmed"
	AuditStopMail       = "mail_stopped"
	AuditPushOn         = "push_on"
	AuditPushOff        = "push_off"
	AuditChangePush     = "push_changed"
	AuditUseLearnt      = "learnt_used"
	AuditUndoLearnt     = "learnt_undone"
	AuditMark           = "task_marked"
	AuditDelay          = "delayed"
	AuditUndoDelay      = "delay_undone"
	AuditCount          = "stock_counted"
	AuditUndoCount      = "count_undone"
	AuditStockChange    = "stock_changed"
	AuditSales          = "sales_sent" // once per key, source and day
	AuditSalesFile      = "sales_imported"
	AuditMappings       = "mappings_changed"
	AuditExpected       = "expected_set"
	AuditWeather        = "weather_sent" // once per key, kind and day
	AuditHigh           = "high_set"
	AuditEvents         = "events_changed"
	AuditOffSale        = "off_sale_changed"
	AuditOutages        = "outages_changed"
	AuditAttention      = "attention_changed"
	AuditMeasureBrews   = "brews_measured"
	AuditAck            = "warning_acknowledged"
	AuditPlan           = "planned"
	AuditReplay         = "replay_ordered"
	AuditStopWork       = "work_stopped"
	AuditSignIn         = "signed_in"
	AuditSignInFailed   = "sign_in_failed" // at most once an hour for a name and address
	AuditSignOut        = "signed_out"
)

// AuditStore stores the audit log, which is append-only.
type AuditStore interface {
	AddAudit(ctx context.Context, e AuditEntry) error
	// AddAuditOnce adds an entry unless there is one since then with the same token, site, action and subject.
	AddAuditOnce(ctx context.Context, e AuditEntry, since time.Time) error
	// Audit returns entries newest first: of these sites or, if sites is nil, all.
	Audit(ctx context.Context, sites []string, p Page) (Rows[AuditEntry], error)
}

var scopes = []string{ScopeManage, ScopeKitchen, ScopeSales, ScopeRead}

// SortedScopes returns the distinct scopes, the widest first.
func SortedScopes(list []string) []string {
	var out []string
	for _, s := range scopes {
		if slices.Contains(list, s) {
			out = append(out, s)
		}
	}
	return out
}
