package store

import (
	"bytes"
	"context"
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gorm.io/gorm"
)

// Secrets that must be known in full, those of webhooks and the push key, are stored encrypted with AES-256-GCM under a key that is not in the database:
// whoever has a copy of the database alone cannot sign in the name of the shop. The key file holds one key a line, the current one first.
const (
	keySuffix = ".key" // of the default key file, after the name of the database
	keyLine   = "hotday-key-1 "
	keySize   = 32
	sealed    = "sealed:1:" // before the key's ID and the ciphertext
)

// WithSecretFile sets the key file of secrets; otherwise it is the name of the SQLite file with .key, and there is none on PostgreSQL. It is created when the first secret is stored.
func WithSecretFile(path string) Option {
	return func(s *shared) {
		if path != "" {
			s.keyFile = path
		}
	}
}

type secretKey [keySize]byte

// id names a key without giving it away.
func (k secretKey) id() string {
	sum := sha256.Sum256(append([]byte("hotday key id "), k[:]...))
	return hex.EncodeToString(sum[:4])
}

func newKey() (k secretKey) {
	_, _ = rand.Read(k[:]) // never fails
	return k
}

func (k secretKey) aead() cipher.AEAD {
	block, err := aes.NewCipher(k[:])
	if err == nil {
		var gcm cipher.AEAD
		if gcm, err = cipher.NewGCMWithRandomNonce(block); err == nil {
			return gcm
		}
	}
	panic(err) // the size is right
}

// seal encrypts a secret for the row with an ID: moved to another row it cannot be read.
func (k secretKey) seal(row, secret string) string {
	return sealed + k.id() + ":" + base64.RawStdEncoding.EncodeToString(k.aead().Seal(nil, nil, []byte(secret), []byte(row)))
}

// sealedWith returns the ID of the key of a stored secret, false if it is in plain text, as earlier versions stored it.
func sealedWith(stored string) (key string, ok bool) {
	rest, ok := strings.CutPrefix(stored, sealed)
	key, _, _ = strings.Cut(rest, ":")
	return key, ok
}

// unseal returns the secret of a row.
func (sh *shared) unseal(row, stored string) (string, error) {
	id, ok := sealedWith(stored)
	if !ok {
		return stored, nil
	}
	keys, err := sh.keys()
	if err != nil {
		return "", err
	}
	for _, k := range keys {
		if k.id() != id {
			continue
		}
		raw, err := base64.RawStdEncoding.DecodeString(strings.TrimPrefix(stored, sealed+id+":"))
		if err != nil {
			return "", fmt.Errorf("read an encrypted secret: %w", err)
		}
		plain, err := k.aead().Open(nil, nil, raw, []byte(row))
		if err != nil {
			return "", fmt.Errorf("decrypt a secret: %w", err)
		}
		return string(plain), nil
	}
	return "", sh.missingKey(id)
}

func (sh *shared) missingKey(id string) error {
	if sh.keyFile == "" {
		return fmt.Errorf("the secrets of %s are encrypted with key %s: name its file with --secret-file; if it is lost, hotday secrets forget --db %s "+
			"removes the webhooks and devices that need it", sh.name, id, sh.name)
	}
	return fmt.Errorf("the secrets of %s are encrypted with key %s, which is not in %s: put the key file back, or name it with --secret-file; "+
		"if it is lost, hotday secrets forget --db %s removes the webhooks and devices that need it", sh.name, id, sh.keyFile, sh.name)
}

// keys reads the key file, none if it does not exist. It is read at each use, so that a rotation takes effect in running services.
func (sh *shared) keys() ([]secretKey, error) {
	if sh.keyFile == "" {
		return nil, nil
	}
	doc, err := os.ReadFile(sh.keyFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("read the key file: %w", err)
	}
	var keys []secretKey
	for line := range strings.Lines(string(doc)) {
		text, ok := strings.CutPrefix(strings.TrimSpace(line), keyLine)
		raw, err := base64.StdEncoding.DecodeString(text)
		if !ok || err != nil || len(raw) != keySize {
			return nil, fmt.Errorf("%s is not a key file of hotday", sh.keyFile)
		}
		keys = append(keys, secretKey(raw))
	}
	if len(keys) == 0 {
		return nil, fmt.Errorf("the key file %s is empty", sh.keyFile)
	}
	return keys, nil
}

// NewKeyFile makes a key file with a new key. It is an error if the file exists.
func NewKeyFile(path string) error {
	if err := createPrivate(path); err != nil {
		return err
	}
	switch f, err := os.Stat(path); {
	case err != nil:
		return err
	case f.Size() > 0:
		return fmt.Errorf("%s exists already and is left as it is", path)
	}
	return (&shared{keyFile: path}).writeKeys([]secretKey{newKey()})
}

// writeKeys replaces the key file, durably.
func (sh *shared) writeKeys(keys []secretKey) (err error) {
	var doc bytes.Buffer
	for _, k := range keys {
		fmt.Fprintln(&doc, keyLine+base64.StdEncoding.EncodeToString(k[:]))
	}
	dir := filepath.Dir(sh.keyFile)
	tmp, err := os.CreateTemp(dir, ".hotday-key-*") // mode 0600
	if err != nil {
		return fmt.Errorf("write the key file: %w", err)
	}
	_, err = tmp.Write(doc.Bytes())
	if err = errors.Join(err, tmp.Sync(), tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), sh.keyFile)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("write the key file: %w", err), os.Remove(tmp.Name()))
	}
	return syncDir(dir)
}

// seal encrypts a secret with the current key. It must run in the transaction that stores the secret: the organisation's lock orders it
// with rotations and with the creation of the key file.
func (s *Store) seal(ctx context.Context, row, secret string) (string, error) {
	if err := s.hold(ctx, organisation); err != nil {
		return "", err
	}
	keys, err := s.keys()
	if err != nil {
		return "", err
	}
	if len(keys) == 0 {
		if s.keyFile == "" {
			return "", errors.New("name the key file of the secrets with --secret-file; every replica needs a copy of the same file")
		}
		if err := s.needKeys(ctx, nil); err != nil {
			return "", err
		}
		keys = []secretKey{newKey()}
		if err := s.writeKeys(keys); err != nil {
			return "", err
		}
	}
	return keys[0].seal(row, secret), nil
}

// needKeys returns an error if a stored secret is encrypted with a key other than these.
func (s *Store) needKeys(ctx context.Context, keys []secretKey) error {
	list, err := s.secrets(ctx)
	if err != nil {
		return err
	}
	stored := make([]string, len(list))
	for i, r := range list {
		stored[i] = r.secret
	}
	return s.keysOpen(keys, stored)
}

// keysOpen returns an error if one of the stored secrets is encrypted with none of the keys.
func (sh *shared) keysOpen(keys []secretKey, stored []string) error {
	for _, x := range stored {
		if id, ok := sealedWith(x); ok && !slices.ContainsFunc(keys, func(k secretKey) bool { return k.id() == id }) {
			return sh.missingKey(id)
		}
	}
	return nil
}

// secretRow is a stored secret: of a webhook, or the private part of the push key.
type secretRow struct {
	of         any // row model of its table
	id, secret string
}

// secrets returns all stored secrets.
func (s *Store) secrets(ctx context.Context) ([]secretRow, error) {
	keys, err := gorm.G[pushKeyRow](s.db).Find(ctx)
	if err != nil {
		return nil, err
	}
	hooks, err := gorm.G[webhookRow](s.db).Order("id").Find(ctx)
	return append(nouns(keys, func(r pushKeyRow) secretRow { return secretRow{pushKeyRow{}, r.ID, r.Secret} }),
		nouns(hooks, func(r webhookRow) secretRow { return secretRow{webhookRow{}, r.ID, r.Secret} })...), err
}

// EncryptSecrets encrypts secrets that an earlier version stored in plain text, and removes their traces from the file. It is an error if
// the key of others is missing.
func (s *Store) EncryptSecrets(ctx context.Context) error {
	return failed("encrypt the secrets", s.reseal(ctx, func(stored string) bool {
		_, ok := sealedWith(stored)
		return !ok
	}))
}

// RotateSecrets encrypts all secrets with a new key and forgets the former ones. Services may be running: they read the file at each use.
func (s *Store) RotateSecrets(ctx context.Context) error {
	keys, err := s.keys()
	if err != nil {
		return err
	}
	if err := s.needKeys(ctx, keys); err != nil {
		return err
	}
	fresh := newKey()
	if err := s.writeKeys(append([]secretKey{fresh}, keys...)); err != nil {
		return err
	}
	if err := s.reseal(ctx, func(string) bool { return true }); err != nil {
		return failed("encrypt the secrets again", err)
	}
	return s.writeKeys([]secretKey{fresh})
}

// reseal encrypts the chosen secrets with the current key.
func (s *Store) reseal(ctx context.Context, chosen func(stored string) bool) error {
	list, err := s.secrets(ctx)
	if err != nil || len(list) == 0 {
		return err
	}
	return s.dialect.erasing(ctx, s.writeDB, func() (changed int, err error) {
		err = s.alone(ctx, func(tx *Store) error {
			keys, err := tx.keys()
			if err != nil {
				return err
			}
			if err := tx.needKeys(ctx, keys); err != nil {
				return err
			}
			list, err := tx.secrets(ctx)
			if err != nil {
				return err
			}
			for _, r := range list {
				if !chosen(r.secret) {
					continue
				}
				plain, err := tx.unseal(r.id, r.secret)
				if err != nil {
					return err
				}
				again, err := tx.seal(ctx, r.id, plain)
				if err != nil {
					return err
				}
				if err := tx.db.WithContext(ctx).Model(r.of).Where("id = ?", r.id).Update("secret", again).Error; err != nil {
					return err
				}
				changed++
			}
			return nil
		})
		return changed, err
	})
}

// ForgetSecrets removes the webhooks whose secrets cannot be read since their key is lost, and returns their addresses. If the push key is
// among them it goes with all devices, which accept no other key.
func (s *Store) ForgetSecrets(ctx context.Context) (removed []string, err error) {
	err = failed("remove webhooks without a key", s.alone(ctx, func(tx *Store) error {
		list, err := gorm.G[webhookRow](tx.db).Order("created_at, id").Find(ctx)
		if err != nil {
			return err
		}
		for _, r := range list {
			if _, err := tx.unseal(r.ID, r.Secret); err == nil {
				continue
			}
			if err := tx.RemoveWebhook(ctx, r.ID); err != nil {
				return err
			}
			removed = append(removed, r.URL)
		}
		devices, err := tx.forgetPushKey(ctx)
		if devices > 0 {
			removed = append(removed, fmt.Sprintf("devices with notifications: %d", devices))
		}
		return err
	}))
	return removed, err
}

// forgetPushKey removes the push key and all devices if it cannot be read, and returns their number.
func (s *Store) forgetPushKey(ctx context.Context) (devices int64, err error) {
	r, found, err := one(gorm.G[pushKeyRow](s.db).Where("id = ?", pushKeyID).Take(ctx))
	if err != nil || !found {
		return 0, err
	}
	if _, err := s.unseal(pushKeyID, r.Secret); err == nil {
		return 0, nil
	}
	if _, err := gorm.G[pushKeyRow](s.db).Where("id = ?", pushKeyID).Delete(ctx); err != nil {
		return 0, err
	}
	n, err := gorm.G[pushDeviceRow](s.db).Where("true").Delete(ctx)
	return int64(n), err
}
