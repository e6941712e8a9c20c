package store

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"

	"hotday/models"
)

// usedAtResolution is how far used_at may lag; updating it with every request would turn every read into a write.
const usedAtResolution = 10 * time.Minute

type tokenRow struct {
	ID         string
	Hash       string // SHA-256 of the secret, which is not kept
	Name       string
	Scopes     string
	Site       string // see storedReach
	CreatedAt  int64  `gorm:"autoCreateTime:false"`
	RevokedAt  *int64
	UsedAt     *int64
	Kind       string
	Sandbox    bool
	SiteGroups string
}

func (tokenRow) TableName() string { return "tokens" }

func (r tokenRow) token() models.Token {
	site, groups := reach(r.Site, r.SiteGroups)
	return models.Token{ID: r.ID, Kind: r.Kind, Name: r.Name, Scopes: strings.Fields(r.Scopes), Site: site, Groups: groups, CreatedAt: instant(r.CreatedAt),
		RevokedAt: instantOrNil(r.RevokedAt), UsedAt: instantOrNil(r.UsedAt), Sandbox: r.Sandbox}
}

// AddToken creates a secret of 256 random bits and stores its hash. For that many bits a slow hash adds nothing, and looking up the
// hash leaks no timing about the secret.
func (s *Store) AddToken(ctx context.Context, t models.Token, at time.Time) (models.Token, string, error) {
	secret := newSecret("hotday_")
	t.Kind = cmp.Or(t.Kind, models.TokenKey)
	t.ID, t.CreatedAt, t.RevokedAt, t.UsedAt, t.Groups = ulid.Make().String(), instant(ms(at)), nil, nil, append([]string{}, t.Groups...)
	err := failed("store a token", s.alone(ctx, func(tx *Store) error {
		if err := tx.checkReach(ctx, t.Site, t.Groups); err != nil {
			return err
		}
		site, groups := storedReach(t.Site, t.Groups)
		return gorm.G[tokenRow](tx.db).Create(ctx, &tokenRow{ID: t.ID, Kind: t.Kind, Hash: hashOf(secret), Name: t.Name, Scopes: strings.Join(t.Scopes, " "),
			Site: site, SiteGroups: groups, CreatedAt: ms(at), Sandbox: t.Sandbox})
	}))
	if err != nil {
		return models.Token{}, "", err
	}
	return t, secret, nil
}

// newSecret returns 256 random bits as text. rand.Read never fails.
func newSecret(prefix string) string {
	var raw [32]byte
	_, _ = rand.Read(raw[:])
	return prefix + base64.RawURLEncoding.EncodeToString(raw[:])
}

func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}

// TokenBySecret returns a token by its secret, with the sites of its groups, and updates used_at.
func (s *Store) TokenBySecret(ctx context.Context, secret string, at time.Time) (models.Token, error) {
	r, found, err := one(gorm.G[tokenRow](s.db).Where("hash = ? AND revoked_at IS NULL", hashOf(secret)).Take(ctx))
	if err != nil {
		return models.Token{}, fmt.Errorf("find a token: %w", err)
	}
	if !found {
		return models.Token{}, models.Errorf(models.CodeUnauthorised, "this token is unknown or revoked")
	}
	if (r.UsedAt == nil || ms(at)-*r.UsedAt >= usedAtResolution.Milliseconds()) && (s.tx == nil || !s.tx.readOnly) {
		err = s.note(ctx, func(tx *Store) error {
			_, err := gorm.G[tokenRow](tx.db).Where("id = ?", r.ID).Update(ctx, "used_at", ms(at))
			return err
		})
		used := ms(at)
		r.UsedAt = &used
	}
	if err != nil {
		return models.Token{}, failed("record the use of a token", err)
	}
	return s.withGroupSites(ctx, r.token())
}

// TokenByID returns a token by ID, revoked or not, with the sites of its groups.
func (s *Store) TokenByID(ctx context.Context, id string) (models.Token, error) {
	r, found, err := one(gorm.G[tokenRow](s.db).Where("id = ?", id).Take(ctx))
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no token %q", id)
	}
	if err != nil {
		return r.token(), failed("find a token", err)
	}
	return s.withGroupSites(ctx, r.token())
}

// Tokens returns all tokens, including revoked ones, oldest first, without the sites of their groups.
func (s *Store) Tokens(ctx context.Context) ([]models.Token, error) {
	list, err := gorm.G[tokenRow](s.db).Order("created_at, id").Find(ctx)
	return append([]models.Token{}, nouns(list, tokenRow.token)...), failed("list tokens", err)
}

// RevokeToken revokes a token. A revoked one keeps its time of revocation.
func (s *Store) RevokeToken(ctx context.Context, id string, at time.Time) error {
	return failed("revoke a token", s.within(ctx, func(tx *Store) error {
		n, err := gorm.G[tokenRow](tx.db).Where("id = ?", id).Update(ctx, "revoked_at", gorm.Expr("COALESCE(revoked_at, ?)", ms(at)))
		if err == nil && n == 0 {
			err = models.Errorf(models.CodeNotFound, "there is no token %q", id)
		}
		return err
	}))
}
