package store

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gorm.io/gorm"

	"hotday/models"
)

// webhookFile makes a database with one webhook and returns its path, the webhook's ID and its secret.
func webhookFile(t *testing.T) (path, id, secret string) {
	t.Helper()
	path = shopFile(t)
	s, err := Open(ctx, path)
	require.NoError(t, err)
	w, secret, err := s.AddWebhook(ctx, models.Webhook{URL: "https://example.com/till", Events: []string{models.HookMarked}}, t0)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return path, w.ID, secret
}

// requireNowhere fails if one of the database's files holds a text.
func requireNowhere(t *testing.T, path, text string) {
	t.Helper()
	for _, suffix := range []string{"", "-wal"} {
		doc, err := os.ReadFile(path + suffix)
		if err == nil {
			require.NotContains(t, string(doc), text, path+suffix)
		}
	}
}

func TestWebhookSecretsAreEncrypted(t *testing.T) {
	t.Parallel()
	path, id, secret := webhookFile(t)
	requireNowhere(t, path, strings.TrimPrefix(secret, "whsec_"))
	there, err := os.Stat(path + keySuffix)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), there.Mode().Perm())
	s := openFile(t, path)
	_, got, err := s.Webhook(ctx, id)
	require.NoError(t, err)
	require.Equal(t, secret, got)

	// A ciphertext moved to another webhook does not sign in its name.
	other, _, err := s.AddWebhook(ctx, models.Webhook{URL: "https://example.com/other", Events: []string{models.HookMarked}}, t0)
	require.NoError(t, err)
	_, err = s.writeDB.Exec("UPDATE webhooks SET secret = (SELECT secret FROM webhooks WHERE id = ?) WHERE id = ?", id, other.ID)
	require.NoError(t, err)
	_, got, err = s.Webhook(ctx, other.ID)
	require.ErrorContains(t, err, "decrypt")
	require.Empty(t, got)
}

func TestPlainSecretsAreEncryptedAtStart(t *testing.T) {
	t.Parallel()
	path, id, _ := webhookFile(t)
	const plain = "whsec_cGxhaW4gc2VjcmV0IG9mIGFuIGVhcmxpZXIgdmVyc2lvbg=="
	db, err := openPlain(path)
	require.NoError(t, err)
	_, err = db.Exec("UPDATE webhooks SET secret = ?", plain)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	require.NoError(t, os.Remove(path+keySuffix))

	s := openFile(t, path)
	require.NoError(t, s.EncryptSecrets(ctx))
	requireNowhere(t, path, strings.TrimPrefix(plain, "whsec_"))
	_, got, err := s.Webhook(ctx, id)
	require.NoError(t, err)
	require.Equal(t, plain, got)
}

func TestWithoutItsKeyADatabaseSaysSo(t *testing.T) {
	t.Parallel()
	path, id, _ := webhookFile(t)
	key, err := os.ReadFile(path + keySuffix)
	require.NoError(t, err)
	other, _, _ := webhookFile(t)
	otherKey, err := os.ReadFile(other + keySuffix)
	require.NoError(t, err)
	for name, content := range map[string][]byte{"missing": nil, "another": otherKey} {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, os.Remove(path+keySuffix))
			if content != nil {
				require.NoError(t, os.WriteFile(path+keySuffix, content, 0o600))
			}
			s := openFile(t, path)
			require.ErrorContains(t, s.EncryptSecrets(ctx), "put the key file back")
			_, _, err = s.Webhook(ctx, id)
			require.ErrorContains(t, err, "put the key file back")
			_, _, err = s.AddWebhook(ctx, models.Webhook{URL: "https://example.com/2", Events: []string{models.HookMarked}}, t0)
			if content == nil {
				require.ErrorContains(t, err, "put the key file back", "no second key takes the place of the lost one")
				require.NoFileExists(t, path+keySuffix)
			} else {
				require.NoError(t, err)
			}
			found, err := Check(ctx, path, "")
			require.NoError(t, err)
			require.Contains(t, found, Finding{"secrets", FindingFault, s.missingKey(mustID(t, s, id)).Error()})
			require.NoError(t, os.WriteFile(path+keySuffix, key, 0o600))
		})
	}

	require.NoError(t, os.Remove(path+keySuffix))
	s := openFile(t, path)
	removed, err := s.ForgetSecrets(ctx)
	require.NoError(t, err)
	require.Contains(t, removed, "https://example.com/till")
	require.NoError(t, s.EncryptSecrets(ctx), "the service starts again")
}

func mustID(t *testing.T, s *Store, webhook string) string {
	t.Helper()
	r, _, err := one(gorm.G[webhookRow](s.db).Where("id = ?", webhook).Take(ctx))
	require.NoError(t, err)
	id, ok := sealedWith(r.Secret)
	require.True(t, ok)
	return id
}

func TestRotationKeepsSecretsAndForgetsTheOldKey(t *testing.T) {
	t.Parallel()
	path, id, secret := webhookFile(t)
	before, err := os.ReadFile(path + keySuffix)
	require.NoError(t, err)
	service, command := openFile(t, path), openFile(t, path)
	require.NoError(t, command.RotateSecrets(ctx))
	after, err := os.ReadFile(path + keySuffix)
	require.NoError(t, err)
	require.NotContains(t, string(after), strings.TrimSpace(string(before)))
	require.Equal(t, 1, bytes.Count(after, []byte("\n")))
	_, got, err := service.Webhook(ctx, id)
	require.NoError(t, err)
	require.Equal(t, secret, got, "a running service goes on")
	added, fresh, err := service.AddWebhook(ctx, models.Webhook{URL: "https://example.com/2", Events: []string{models.HookMarked}}, t0)
	require.NoError(t, err)
	_, got, err = command.Webhook(ctx, added.ID)
	require.NoError(t, err)
	require.Equal(t, fresh, got)
}

func TestSecretFileElsewhere(t *testing.T) {
	t.Parallel()
	path, key := shopFile(t), filepath.Join(t.TempDir(), "hotday.key")
	s, err := Open(ctx, path, WithSecretFile(key))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	_, _, err = s.AddWebhook(ctx, models.Webhook{URL: "https://example.com", Events: []string{models.HookMarked}}, t0)
	require.NoError(t, err)
	require.FileExists(t, key)
	require.NoFileExists(t, path+keySuffix)
	require.NoError(t, os.WriteFile(key, []byte("something else\n"), 0o600))
	_, _, err = s.AddWebhook(ctx, models.Webhook{URL: "https://example.com", Events: []string{models.HookMarked}}, t0)
	require.ErrorContains(t, err, "is not a key file of hotday")
}

// The push key is kept as webhook secrets are: without its key file the service says so, and giving it up gives the devices up.
func TestPushKeyIsEncryptedRotatedAndForgotten(t *testing.T) {
	t.Parallel()
	path := shopFile(t)
	s := openFile(t, path)
	public, private, err := s.PushKey(ctx, t0)
	require.NoError(t, err)
	ada, _, err := s.AddPerson(ctx, models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeManage}}, t0)
	require.NoError(t, err)
	_, _, err = s.AddPushDevice(ctx, models.PushDevice{Person: ada.ID, Site: "harbour", Endpoint: "https://push.example/1", CreatedAt: t0})
	require.NoError(t, err)
	requireNowhere(t, path, private)
	before, err := os.ReadFile(path + keySuffix)
	require.NoError(t, err)
	require.NoError(t, s.RotateSecrets(ctx))
	after, err := os.ReadFile(path + keySuffix)
	require.NoError(t, err)
	require.NotEqual(t, before, after)
	again, same, err := s.PushKey(ctx, t0)
	require.NoError(t, err)
	require.Equal(t, []string{public, private}, []string{again, same})

	require.NoError(t, os.Remove(path+keySuffix))
	_, _, err = s.PushKey(ctx, t0)
	require.ErrorContains(t, err, "put the key file back", "no second key takes the place of the lost one")
	require.ErrorContains(t, s.EncryptSecrets(ctx), "put the key file back")
	found, err := Check(ctx, path, "")
	require.NoError(t, err)
	var levels []string
	for _, f := range found {
		if f.Subject == "secrets" {
			levels = append(levels, f.Level)
		}
	}
	require.Equal(t, []string{FindingFault}, levels)

	removed, err := s.ForgetSecrets(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"devices with notifications: 1"}, removed)
	set, err := s.PushSettings(ctx, ada.ID)
	require.NoError(t, err)
	require.Empty(t, set.Devices)
	fresh, _, err := s.PushKey(ctx, t0)
	require.NoError(t, err)
	require.NotEqual(t, public, fresh)
}
