// Package mail writes the messages to staff and hands them to the operator's mail server.
package mail

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"

	"hotday/models"
)

// Ways of encrypting the connection to the mail server.
const (
	TLSAuto     = "auto"     // implicit on port 465, else STARTTLS
	TLSStart    = "starttls" // required: without it nothing is sent
	TLSImplicit = "implicit" // from the first byte
	TLSNone     = "none"     // for a server on the same machine; without password
)

// Settings are the operator's, as flags give them.
type Settings struct {
	Server       string // host and port; empty: no e-mail
	TLS          string
	User         string
	PasswordFile string
	From         string // address, or name and address
	PublicURL    string // base address of links

	Roots *x509.CertPool // who vouches for the mail server; nil: the system's
}

// Server is a mail server, with the sender of the messages and the address that their links lead to.
type Server struct {
	host           string
	port           int
	tls            string
	user, password string
	from           mail.Address
	publicURL      string // without a slash at the end

	roots *x509.CertPool
}

// sendTimeout is that of one message.
const sendTimeout = 45 * time.Second

const maxPassword = 4 << 10 // bytes of the password file

// NewServer checks the settings and reads the password. It returns nil for settings without a server; other settings given without one are an
// error, as are incomplete ones.
func NewServer(s Settings) (*Server, error) {
	if s.Server == "" {
		for name, value := range map[string]string{"--smtp-user": s.User, "--smtp-password-file": s.PasswordFile, "--mail-from": s.From} {
			if value != "" {
				return nil, fmt.Errorf("%s is given without --smtp", name)
			}
		}
		return nil, nil
	}
	out := &Server{tls: s.TLS, user: s.User, roots: s.Roots}
	host, port, err := net.SplitHostPort(s.Server)
	if err == nil {
		out.host = host
		out.port, err = strconv.Atoi(port)
	}
	if err != nil || host == "" || out.port < 1 || out.port > 65535 {
		return nil, fmt.Errorf("--smtp %s: give host and port, such as mail.example.com:587", s.Server)
	}
	if out.tls == TLSAuto || out.tls == "" {
		out.tls = TLSStart
		if out.port == 465 {
			out.tls = TLSImplicit
		}
	}
	from, err := mail.ParseAddress(s.From)
	if err != nil {
		return nil, fmt.Errorf("--mail-from %q: give the address that messages come from, such as hotday@example.com", s.From)
	}
	if _, ok := models.MailAddress(from.Address); !ok {
		return nil, fmt.Errorf("--mail-from %q: give the address that messages come from, such as hotday@example.com", s.From)
	}
	out.from = mail.Address{Name: oneLine(from.Name), Address: from.Address}
	if out.from.Name == "" {
		out.from.Name = "hotday"
	}
	u, err := url.Parse(s.PublicURL)
	if err != nil || (u.Scheme != "https" && u.Scheme != "http") || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return nil, fmt.Errorf("--public-url %q: give the address by which people reach the service, such as https://hotday.example.com", s.PublicURL)
	}
	out.publicURL = strings.TrimRight(u.String(), "/")
	if (s.User == "") != (s.PasswordFile == "") {
		return nil, errors.New("give both --smtp-user and --smtp-password-file, or neither")
	}
	if s.PasswordFile != "" {
		if out.tls == TLSNone {
			return nil, errors.New("--smtp-tls none would send the password in clear: use starttls or implicit")
		}
		if out.password, err = readPassword(s.PasswordFile); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func readPassword(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", fmt.Errorf("read --smtp-password-file: %w", err)
	}
	if info.Size() > maxPassword {
		return "", fmt.Errorf("--smtp-password-file %s has %d bytes: it must hold the password alone", path, info.Size())
	}
	raw, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("read --smtp-password-file: %w", err)
	}
	password := strings.TrimRight(string(raw), "\r\n")
	if password == "" || strings.ContainsAny(password, "\r\n\x00") {
		return "", fmt.Errorf("--smtp-password-file %s must hold the password on one line", path)
	}
	return password, nil
}

// connection is the one that a message goes over. It is kept apart from the library, since go-mail 0.8.1 leaves it open where the conversation
// fails before the first message, and watches the context only while it dials.
type connection struct {
	mu     sync.Mutex
	conn   net.Conn
	closed bool
}

// close closes the connection, now or as soon as there is one.
func (c *connection) close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.closed = true
	if c.conn != nil {
		_ = c.conn.Close() // mostly closed already
	}
}

func (c *connection) keep(conn net.Conn) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.conn = conn; c.closed {
		_ = conn.Close()
	}
}

// dial connects to the mail server, by TLS if it begins at once.
func (s *Server) dial(c *connection) func(ctx context.Context, network, address string) (net.Conn, error) {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		dialer := &net.Dialer{Timeout: 10 * time.Second}
		dial := dialer.DialContext
		if s.tls == TLSImplicit {
			dial = (&tls.Dialer{NetDialer: dialer, Config: s.tlsConfig()}).DialContext
		}
		conn, err := dial(ctx, network, address)
		if err == nil {
			c.keep(conn)
		}
		return conn, err
	}
}

func (s *Server) tlsConfig() *tls.Config {
	return &tls.Config{ServerName: s.host, RootCAs: s.roots, MinVersion: tls.VersionTLS12}
}
