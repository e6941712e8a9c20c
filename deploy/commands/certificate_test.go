package commands

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// writeCertificate writes a self-signed certificate for 127.0.0.1 with its key, as of an instant.
func writeCertificate(t *testing.T, dir string, serial int64, at time.Time) (certFile, keyFile string) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	der, err := x509.CreateCertificate(rand.Reader, &x509.Certificate{SerialNumber: big.NewInt(serial), NotAfter: time.Now().Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}}, &x509.Certificate{SerialNumber: big.NewInt(serial)}, &key.PublicKey, key)
	require.NoError(t, err)
	private, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	certFile, keyFile = filepath.Join(dir, "shop.crt"), filepath.Join(dir, "shop.key")
	for file, block := range map[string]*pem.Block{certFile: {Type: "CERTIFICATE", Bytes: der}, keyFile: {Type: "PRIVATE KEY", Bytes: private}} {
		require.NoError(t, os.WriteFile(file, pem.EncodeToMemory(block), 0o600))
		require.NoError(t, os.Chtimes(file, at, at))
	}
	return certFile, keyFile
}

func TestARenewedCertificateIsUsedWithoutRestart(t *testing.T) {
	t.Parallel()
	dir, at := t.TempDir(), time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
	certFile, keyFile := writeCertificate(t, dir, 1, at)
	var log bytes.Buffer
	c, err := openCertificate(certFile, keyFile, slog.New(slog.NewTextHandler(&log, nil)))
	require.NoError(t, err)
	server := httptest.NewUnstartedServer(http.NotFoundHandler())
	server.TLS = c.config()
	server.StartTLS()
	defer server.Close()
	server.TLS.Certificates = nil // of httptest
	dial := func(most uint16) (serial int64, err error) {
		conn, err := tls.Dial("tcp", server.Listener.Addr().String(), &tls.Config{InsecureSkipVerify: true, MaxVersion: most})
		if err != nil {
			return 0, err
		}
		defer conn.Close()
		return conn.ConnectionState().PeerCertificates[0].SerialNumber.Int64(), nil
	}
	serving := func(want int64) {
		t.Helper()
		serial, err := dial(tls.VersionTLS13)
		require.NoError(t, err)
		require.Equal(t, want, serial)
	}
	serving(1)
	writeCertificate(t, dir, 2, at.Add(time.Hour))
	serving(2)

	other := t.TempDir()
	otherCert, _ := writeCertificate(t, other, 3, at)
	half, err := os.ReadFile(otherCert) // a certificate without its key, as in the middle of a renewal
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(certFile, half, 0o600))
	serving(2)
	require.Contains(t, log.String(), "the old one stays")
	require.NoError(t, os.Remove(keyFile))
	serving(2)

	writeCertificate(t, dir, 4, at.Add(time.Hour)) // as old as the pair before
	c.Reload()
	serving(4)

	_, err = dial(tls.VersionTLS12)
	require.NoError(t, err)
	_, err = dial(tls.VersionTLS11)
	require.Error(t, err, "TLS 1.1 is refused")
	_, err = tls.Dial("tcp", server.Listener.Addr().String(), &tls.Config{InsecureSkipVerify: true, MaxVersion: tls.VersionTLS12,
		CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_CBC_SHA}})
	require.Error(t, err, "a cipher without authenticated encryption is refused")
	_, err = openCertificate(certFile, "", nil)
	require.ErrorContains(t, err, "--tls-key")
}

func TestServeWithACertificateSpeaksHTTPS(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	certFile, keyFile := writeCertificate(t, dir, 1, time.Now())
	p, err := open(t.Context(), Serve{DB: filepath.Join(dir, "shop.db"), Listen: "127.0.0.1:0", TLSCert: certFile, TLSKey: keyFile, Grace: time.Second}, slog.New(slog.DiscardHandler), settings{})
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	served := make(chan error, 1)
	go func() { served <- p.Serve(ctx) }()
	require.Regexp(t, "^https://127", p.Address())
	browser := &http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	res, err := browser.Get(p.Address() + "/sign-in")
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Equal(t, 2, res.ProtoMajor)
	require.NotEmpty(t, res.Header.Get("Strict-Transport-Security"))
	browser.CloseIdleConnections()
	stop()
	require.NoError(t, <-served)
	require.NoError(t, p.Close())
}

func TestPlainHTTPForOtherMachinesIsSaid(t *testing.T) {
	t.Parallel()
	certFile, keyFile := writeCertificate(t, t.TempDir(), 1, time.Now())
	var proxy proxyNetwork
	require.NoError(t, proxy.UnmarshalText([]byte("127.0.0.1")))
	for name, x := range map[string]struct {
		c    Serve
		want bool
	}{
		"every address":        {Serve{Listen: "0.0.0.0:0"}, true},
		"this machine":         {Serve{Listen: "127.0.0.1:0"}, false},
		"a certificate":        {Serve{Listen: "0.0.0.0:0", TLSCert: certFile, TLSKey: keyFile}, false},
		"a trusted proxy":      {Serve{Listen: "0.0.0.0:0", TrustedProxy: []proxyNetwork{proxy}}, false},
		"HTTPS by other means": {Serve{Listen: "0.0.0.0:0", SecureCookies: true}, false},
	} {
		x.c.DB, x.c.Grace = filepath.Join(t.TempDir(), "shop.db"), time.Second
		p, err := open(t.Context(), x.c, slog.New(slog.DiscardHandler), settings{})
		require.NoError(t, err, name)
		require.Equal(t, x.want, p.unencrypted(), name)
		require.NoError(t, p.Close(), name)
	}
}

func TestTrustedProxiesAreNetworksOrAddresses(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{"10.0.0.0/24": "10.0.0.0/24", "10.0.0.7/24": "10.0.0.0/24", "127.0.0.1": "127.0.0.1/32", "fd00::/8": "fd00::/8", "::1": "::1/128"} {
		var p proxyNetwork
		require.NoError(t, p.UnmarshalText([]byte(text)))
		require.Equal(t, want, prefixes([]proxyNetwork{p})[0].String())
	}
	for text, want := range map[string]string{"proxy": "not an address", "10.0.0.0/33": "not an address", "0.0.0.0/0": "every client", "::/0": "every client"} {
		var p proxyNetwork
		require.ErrorContains(t, p.UnmarshalText([]byte(text)), want)
	}
}
