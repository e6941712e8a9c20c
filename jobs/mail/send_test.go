package mail

import (
	"context"
	"crypto/x509"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"hotday/jobs/mail/mailtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var written = time.Date(2026, 7, 10, 18, 0, 0, 0, time.FixedZone("", 2*3600))

func serverFor(t *testing.T, at *mailtest.Server, change ...func(*Settings)) *Server {
	t.Helper()
	set := Settings{Server: at.Addr, Roots: at.Roots, From: "hotday@example.com", PublicURL: "https://hotday.example.com"}
	for _, f := range change {
		f(&set)
	}
	s, err := NewServer(set)
	require.NoError(t, err)
	return s
}

func withPassword(t *testing.T, password string) func(*Settings) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "password")
	require.NoError(t, os.WriteFile(path, []byte(password), 0o600))
	return func(s *Settings) { s.User, s.PasswordFile = mailtest.User, path }
}

func implicit(s *Settings) { s.TLS = TLSImplicit }
func without(s *Settings)  { s.TLS = TLSNone }

func sample() Letter {
	return Letter{ID: "mail_1", Date: written, To: "ada@example.com", Subject: "Prep sheet – 4 °C", Text: "Brew at 06:30.\n", HTML: "<p>Brew at 06:30.</p>",
		Files: []File{{"sheet.pdf", "application/pdf", []byte("%PDF-1.7\x00")}}, StopURL: "https://hotday.example.com/mail/stop?token=x_-1"}
}

func TestALetterIsEncryptedAndPlainTextComesFirst(t *testing.T) {
	t.Parallel()
	for name, x := range map[string]struct {
		options mailtest.Options
		change  func(*Settings)
	}{
		"starttls": {mailtest.Options{Auth: true}, func(*Settings) {}},
		"implicit": {mailtest.Options{Auth: true, Implicit: true}, implicit},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at := mailtest.Start(t, x.options)
			require.NoError(t, serverFor(t, at, withPassword(t, mailtest.Password), x.change).Send(t.Context(), sample()))
			got := at.Messages()
			require.Len(t, got, 1)
			require.True(t, got[0].TLS)
			require.Equal(t, mailtest.User, got[0].User)
			require.Equal(t, "hotday@example.com", got[0].From)
			require.Equal(t, []string{"ada@example.com"}, got[0].To)
			m := got[0].Parse(t)
			require.Equal(t, "Prep sheet – 4 °C", m.Subject)
			require.Equal(t, "<mail_1@example.com>", m.Header.Get("Message-ID"))
			require.Equal(t, `"hotday" <hotday@example.com>`, m.Header.Get("From"))
			require.Equal(t, "Fri, 10 Jul 2026 18:00:00 +0200", m.Header.Get("Date"))
			require.Equal(t, "<https://hotday.example.com/mail/stop?token=x_-1>", m.Header.Get("List-Unsubscribe"))
			require.Equal(t, "List-Unsubscribe=One-Click", m.Header.Get("List-Unsubscribe-Post"))
			require.Len(t, m.Parts, 3)
			require.Equal(t, "text/plain", m.Parts[0].Type)
			require.Equal(t, "Brew at 06:30.\n", m.Text())
			require.Equal(t, "text/html", m.Parts[1].Type)
			require.Equal(t, mailtest.Part{Type: "application/pdf", File: "sheet.pdf", Body: []byte("%PDF-1.7\x00")}, m.Parts[2])
		})
	}
}

func TestNothingIsSentInClearOrToAStranger(t *testing.T) {
	t.Parallel()
	plain := mailtest.Start(t, mailtest.Options{WithoutTLS: true})
	require.Error(t, serverFor(t, plain).Send(t.Context(), sample()), "STARTTLS is required by default")
	require.Empty(t, plain.Messages())
	require.NoError(t, serverFor(t, plain, without).Send(t.Context(), sample()), "unless the operator says otherwise")
	require.Len(t, plain.Messages(), 1)

	at := mailtest.Start(t, mailtest.Options{})
	err := serverFor(t, at, func(s *Settings) { s.Roots = x509.NewCertPool() }).Send(t.Context(), sample())
	require.ErrorContains(t, err, "certificate")
	require.Empty(t, at.Messages())
}

func TestRefusalsArePermanentOnlyIfTheServerSaysSo(t *testing.T) {
	t.Parallel()
	at := mailtest.Start(t, mailtest.Options{})
	s := serverFor(t, at)
	var refused *RefusedError
	at.Refuse(550)
	require.ErrorAs(t, s.Send(t.Context(), sample()), &refused)
	at.Refuse(451)
	err := s.Send(t.Context(), sample())
	require.Error(t, err)
	require.NotErrorAs(t, err, &refused)
	at.Refuse(0)
	require.NoError(t, s.Send(t.Context(), sample()))

	locked := mailtest.Start(t, mailtest.Options{Auth: true})
	err = serverFor(t, locked, withPassword(t, "wrong")).Send(t.Context(), sample())
	require.Error(t, err)
	require.NotErrorAs(t, err, &refused, "the operator may correct the password")
	require.NotContains(t, err.Error(), "wrong")
	require.Empty(t, locked.Messages())
}

// A mail server that falls silent.
func TestASilentServerIsLeftWhenTheContextEnds(t *testing.T) {
	t.Parallel()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { require.NoError(t, l.Close()) }()
	ctx, cancel := context.WithCancel(t.Context())
	closed := make(chan error, 1)
	go func() {
		conn, err := l.Accept()
		if err != nil {
			closed <- err
			return
		}
		_, _ = conn.Write([]byte("220 mail.example.com\r\n"))
		_, _ = conn.Read(make([]byte, 1)) // the beginning of its greeting: it waits for an answer
		cancel()
		_, err = io.Copy(io.Discard, conn)
		closed <- err
		_ = conn.Close()
	}()
	s, err := NewServer(Settings{Server: l.Addr().String(), From: "hotday@example.com", PublicURL: "http://127.0.0.1"})
	require.NoError(t, err)
	require.ErrorIs(t, s.Send(ctx, sample()), net.ErrClosed, "not at the end of a timeout")
	<-closed //nolint:errcheck // however the connection was closed
}

// Whatever is in a name, a message has the headers and the one recipient that it is meant to have.
func TestNoNameCanAddAHeader(t *testing.T) {
	t.Parallel()
	at := mailtest.Start(t, mailtest.Options{})
	s := serverFor(t, at)
	for _, evil := range []string{"x\r\nBcc: eve@example.com", "x\nBcc: eve@example.com", "x\rBcc: eve@example.com", "x\r\n\r\nbody", "x\x00y", "x\u2028Bcc: eve@example.com",
		"x\r\n Bcc: eve@example.com", strings.Repeat("ä", 300) + "\r\nBcc: eve@example.com", "\u202egro.elpmaxe@eve", "=?utf-8?q?x=0D=0ABcc:_eve@example.com?="} {
		l := sample()
		l.Subject, l.ID, l.Files[0].Name = evil, "mail_1"+evil, "sheet"+evil+".pdf"
		if err := s.Send(t.Context(), l); err != nil {
			continue // refusing is right too
		}
		got := at.Messages()
		last := got[len(got)-1]
		require.Equal(t, []string{"ada@example.com"}, last.To)
		m := last.Parse(t)
		for name := range m.Header {
			require.Contains(t, []string{"Auto-Submitted", "Content-Type", "Date", "From", "List-Unsubscribe", "List-Unsubscribe-Post", "Message-Id", "Mime-Version", "Subject", "To"}, name, "%q", evil)
		}
		require.Len(t, m.Parts, 3, "%q", evil)
		require.Equal(t, "Brew at 06:30.\n", m.Text(), "%q", evil)
		require.NotContains(t, m.Subject, "\u202e")
	}
	require.NotEmpty(t, at.Messages())
}
