package commands

import (
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"
)

// certificate is a TLS certificate that is read again when its files change, so that renewing it needs no restart.
type certificate struct {
	certFile, keyFile string
	log               *slog.Logger

	mu      sync.Mutex
	current *tls.Certificate
	read    [2]time.Time // modification times of the files of current, or of a pair that could not be read
}

// openCertificate reads a certificate with its chain and its key, both PEM.
func openCertificate(certFile, keyFile string, log *slog.Logger) (*certificate, error) {
	if certFile == "" || keyFile == "" {
		return nil, errors.New("--tls-cert and --tls-key belong together: give both or neither")
	}
	c := &certificate{certFile: certFile, keyFile: keyFile, log: log}
	return c, c.load()
}

// load reads the files and keeps the current certificate if they are not a valid pair.
func (c *certificate) load() error {
	times, err := c.modified()
	if err != nil {
		return err
	}
	c.read = times
	pair, err := tls.LoadX509KeyPair(c.certFile, c.keyFile)
	if err != nil {
		return fmt.Errorf("read the certificate %s and its key %s: %w", c.certFile, c.keyFile, err)
	}
	c.current = &pair
	return nil
}

func (c *certificate) modified() (times [2]time.Time, err error) {
	for i, file := range []string{c.certFile, c.keyFile} {
		info, err := os.Stat(file)
		if err != nil {
			return times, fmt.Errorf("read the certificate: %w", err)
		}
		times[i] = info.ModTime()
	}
	return times, nil
}

// Reload reads the files again even if their times are the same.
func (c *certificate) Reload() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.reload()
}

// reload logs what it did. While half of a pair is replaced, the certificate so far stays in use.
func (c *certificate) reload() {
	if err := c.load(); err != nil {
		c.log.Warn("the new certificate cannot be used; the old one stays", "error", err)
		return
	}
	c.log.Info("the certificate was read again", "valid_until", c.current.Leaf.NotAfter)
}

// get returns the certificate for a handshake. Two calls of stat are cheap beside it.
func (c *certificate) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if now, err := c.modified(); err == nil && now != c.read {
		c.reload()
	}
	return c.current, nil
}

func (c *certificate) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, CipherSuites: aeadSuites(), GetCertificate: c.get}
}

// aeadSuites are the suites of TLS 1.2 with forward secrecy and authenticated encryption; those of TLS 1.3 all have both.
func aeadSuites() []uint16 {
	return []uint16{
		tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_RSA_WITH_AES_128_GCM_SHA256,
		tls.TLS_ECDHE_ECDSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_RSA_WITH_AES_256_GCM_SHA384,
		tls.TLS_ECDHE_ECDSA_WITH_CHACHA20_POLY1305_SHA256, tls.TLS_ECDHE_RSA_WITH_CHACHA20_POLY1305_SHA256,
	}
}
