package mail

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSettingsAreChecked(t *testing.T) {
	t.Parallel()
	password := filepath.Join(t.TempDir(), "password")
	require.NoError(t, os.WriteFile(password, []byte("tide and time\n"), 0o600))
	two := filepath.Join(t.TempDir(), "two")
	require.NoError(t, os.WriteFile(two, []byte("one\ntwo\n"), 0o600))
	good := Settings{Server: "mail.example.com:587", From: "Hotday <hotday@example.com>", PublicURL: "https://hotday.example.com/"}

	none, err := NewServer(Settings{PublicURL: "https://hotday.example.com"})
	require.NoError(t, err)
	require.Nil(t, none)

	for name, x := range map[string]struct {
		change func(*Settings)
		tls    string // "": an error
		says   string
	}{
		"starttls":               {func(*Settings) {}, TLSStart, ""},
		"port 465":               {func(s *Settings) { s.Server = "[2001:db8::1]:465" }, TLSImplicit, ""},
		"auto":                   {func(s *Settings) { s.TLS = TLSAuto }, TLSStart, ""},
		"implicit elsewhere":     {func(s *Settings) { s.TLS = TLSImplicit }, TLSImplicit, ""},
		"none":                   {func(s *Settings) { s.TLS = TLSNone }, TLSNone, ""},
		"password":               {func(s *Settings) { s.User, s.PasswordFile = "u", password }, TLSStart, ""},
		"no port":                {func(s *Settings) { s.Server = "mail.example.com" }, "", "mail.example.com:587"},
		"port out of range":      {func(s *Settings) { s.Server = "mail.example.com:70000" }, "", "--smtp"},
		"no sender":              {func(s *Settings) { s.From = "" }, "", "--mail-from"},
		"two senders":            {func(s *Settings) { s.From = "a@example.com, b@example.com" }, "", "--mail-from"},
		"no public address":      {func(s *Settings) { s.PublicURL = "" }, "", "--public-url"},
		"public address, path":   {func(s *Settings) { s.PublicURL = "https://example.com/?x=1" }, "", "--public-url"},
		"user without password":  {func(s *Settings) { s.User = "u" }, "", "--smtp-password-file"},
		"password without TLS":   {func(s *Settings) { s.User, s.PasswordFile, s.TLS = "u", password, TLSNone }, "", "in clear"},
		"missing password file":  {func(s *Settings) { s.User, s.PasswordFile = "u", password+"x" }, "", "--smtp-password-file"},
		"two lines of passwords": {func(s *Settings) { s.User, s.PasswordFile = "u", two }, "", "on one line"},
		"sender without server":  {func(s *Settings) { s.Server = "" }, "", "without --smtp"},
	} {
		set := good
		x.change(&set)
		got, err := NewServer(set)
		if x.tls == "" {
			require.ErrorContains(t, err, x.says, name)
			continue
		}
		require.NoError(t, err, name)
		require.Equal(t, x.tls, got.tls, name)
		require.Equal(t, "https://hotday.example.com", got.publicURL, name)
		if set.PasswordFile != "" {
			require.Equal(t, "tide and time", got.password, name)
		}
	}
}
