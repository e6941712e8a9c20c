// Package mailtest is a mail server on this machine for tests, with a certificate that it signed itself.
package mailtest

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"io"
	"math/big"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"
)

// User and Password are what the server takes, if it asks.
const (
	User     = "hotday"
	Password = "a boat in every harbour"
)

// Options are how a server behaves. The zero value offers STARTTLS and asks for no password.
type Options struct {
	Implicit   bool // TLS from the first byte
	WithoutTLS bool
	Auth       bool
}

// Message is one that the server has taken.
type Message struct {
	From string
	To   []string
	TLS  bool // it came over TLS
	User string
	Raw  []byte
}

// Server is a mail server.
type Server struct {
	Addr  string
	Roots *x509.CertPool // has its certificate

	options Options
	mu      sync.Mutex
	got     []Message
	refuse  error // of the next recipients
	drop    bool  // accept the next message but break off before saying so
	Arrived chan struct{}
}

// Start starts a server that ends with the test.
func Start(t testing.TB, o Options) *Server {
	t.Helper()
	cert, roots := certificate(t)
	s := &Server{Roots: roots, options: o, Arrived: make(chan struct{}, 1000)}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.Addr = l.Addr().String()
	srv := smtp.NewServer(s)
	srv.Domain, srv.AllowInsecureAuth, srv.MaxMessageBytes = "localhost", false, 16<<20
	srv.ErrorLog = discard{}
	config := &tls.Config{Certificates: []tls.Certificate{cert}}
	switch {
	case o.Implicit:
		l = tls.NewListener(l, config)
	case !o.WithoutTLS:
		srv.TLSConfig = config
	}
	done := make(chan struct{})
	go func() { defer close(done); _ = srv.Serve(l) }()
	t.Cleanup(func() { _ = srv.Close(); _ = l.Close(); <-done }) // the listener too: a test may end before the server has begun
	return s
}

type discard struct{}

func (discard) Printf(string, ...any) {}
func (discard) Println(...any)        {}

// Refuse makes the server refuse recipients with a status, or take them again with 0.
func (s *Server) Refuse(status int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.refuse = nil
	if status != 0 {
		s.refuse = &smtp.SMTPError{Code: status, EnhancedCode: smtp.EnhancedCode{status / 100, 1, 1}, Message: "not here"}
	}
}

// Drop makes the server break off once it has the next message, before it says so.
func (s *Server) Drop() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.drop = true
}

// Messages are those that the server has taken, in order.
func (s *Server) Messages() []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Message(nil), s.got...)
}

// NewSession implements smtp.Backend.
func (s *Server) NewSession(c *smtp.Conn) (smtp.Session, error) {
	return &session{server: s, conn: c}, nil
}

type session struct {
	server *Server
	conn   *smtp.Conn
	m      Message
}

func (x *session) AuthMechanisms() []string {
	if !x.server.options.Auth {
		return nil
	}
	return []string{sasl.Plain}
}

func (x *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != User || password != Password {
			return smtp.ErrAuthFailed
		}
		x.m.User = user
		return nil
	}), nil
}

func (x *session) Mail(from string, _ *smtp.MailOptions) error {
	if x.server.options.Auth && x.m.User == "" {
		return smtp.ErrAuthRequired
	}
	_, x.m.TLS = x.conn.TLSConnectionState()
	x.m.From = from
	return nil
}

func (x *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	x.server.mu.Lock()
	defer x.server.mu.Unlock()
	if x.server.refuse != nil {
		return x.server.refuse
	}
	x.m.To = append(x.m.To, to)
	return nil
}

func (x *session) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	x.m.Raw = raw
	x.server.mu.Lock()
	x.server.got = append(x.server.got, x.m)
	drop := x.server.drop
	x.server.drop = false
	x.server.mu.Unlock()
	x.server.Arrived <- struct{}{}
	if drop {
		_ = x.conn.Conn().Close()
	}
	return nil
}

func (x *session) Reset()        { x.m = Message{User: x.m.User} }
func (x *session) Logout() error { return nil }

// Parsed is a message taken apart.
type Parsed struct {
	Header  mail.Header
	Subject string
	Parts   []Part // in order, those inside others too
}

// Part is a part with its content decoded.
type Part struct {
	Type, File string
	Body       []byte
}

// Text is the first part's content as text.
func (p Parsed) Text() string { return strings.ReplaceAll(string(p.Parts[0].Body), "\r\n", "\n") }

// Parse takes a message apart; the test fails if it is not well-formed.
func (m Message) Parse(t testing.TB) Parsed {
	t.Helper()
	msg, err := mail.ReadMessage(bytes.NewReader(m.Raw))
	require.NoError(t, err)
	out := Parsed{Header: msg.Header}
	out.Subject, err = new(mime.WordDecoder).DecodeHeader(msg.Header.Get("Subject"))
	require.NoError(t, err)
	out.add(t, msg.Header, msg.Body)
	return out
}

type header interface{ Get(string) string }

func (p *Parsed) add(t testing.TB, h header, body io.Reader) {
	t.Helper()
	kind, params, err := mime.ParseMediaType(h.Get("Content-Type"))
	require.NoError(t, err)
	if strings.HasPrefix(kind, "multipart/") {
		for r := multipart.NewReader(body, params["boundary"]); ; {
			part, err := r.NextRawPart()
			if err == io.EOF {
				return
			}
			require.NoError(t, err)
			p.add(t, part.Header, part)
		}
	}
	switch h.Get("Content-Transfer-Encoding") {
	case "base64":
		body = base64.NewDecoder(base64.StdEncoding, body)
	case "quoted-printable":
		body = quotedprintable.NewReader(body)
	}
	content, err := io.ReadAll(body)
	require.NoError(t, err)
	_, disposition, _ := mime.ParseMediaType(h.Get("Content-Disposition"))
	p.Parts = append(p.Parts, Part{kind, disposition["filename"], content})
}

func certificate(t testing.TB) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	now := time.Now()
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: now.Add(-time.Hour), NotAfter: now.Add(24 * time.Hour), IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	parsed, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(parsed)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, roots
}
