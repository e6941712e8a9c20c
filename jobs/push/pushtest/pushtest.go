// Package pushtest has a browser's part of web push and a push service for tests.
package pushtest

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"math/big"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Browser decrypts what is sent to its subscription.
type Browser struct {
	Key  *ecdh.PrivateKey
	Auth []byte
}

// NewBrowser returns a browser with keys of its own.
func NewBrowser(t *testing.T) Browser {
	t.Helper()
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	require.NoError(t, err)
	auth := make([]byte, 16)
	_, err = rand.Read(auth)
	require.NoError(t, err)
	return Browser{key, auth}
}

// Keys are those of the subscription.
func (b Browser) Keys() models.PushKeys {
	return models.PushKeys{P256dh: base64.RawURLEncoding.EncodeToString(b.Key.PublicKey().Bytes()), Auth: base64.RawURLEncoding.EncodeToString(b.Auth)}
}

// Decrypt reads a message of one record by RFC 8291 and RFC 8188.
func (b Browser) Decrypt(body []byte) ([]byte, error) {
	if len(body) < 21 || len(body) < 21+int(body[20]) {
		return nil, errors.New("no header")
	}
	salt, size, sender := body[:16], binary.BigEndian.Uint32(body[16:20]), body[21:21+int(body[20])]
	record := body[21+int(body[20]):]
	if len(record) > int(size) {
		return nil, errors.New("more than one record")
	}
	public, err := ecdh.P256().NewPublicKey(sender)
	if err != nil {
		return nil, err
	}
	shared, err := b.Key.ECDH(public)
	if err != nil {
		return nil, err
	}
	derive := func(secret, salt []byte, info string, n int) []byte {
		key, err2 := hkdf.Key(sha256.New, secret, salt, info, n)
		err = errors.Join(err, err2)
		return key
	}
	ikm := derive(shared, b.Auth, "WebPush: info\x00"+string(b.Key.PublicKey().Bytes())+string(sender), 32)
	key, nonce := derive(ikm, salt, "Content-Encoding: aes128gcm\x00", 16), derive(ikm, salt, "Content-Encoding: nonce\x00", 12)
	if err != nil {
		return nil, err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return nil, err
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		return nil, err
	}
	plain, err := gcm.Open(nil, nonce, record, nil)
	if err != nil {
		return nil, err
	}
	text, found := strings.CutSuffix(strings.TrimRight(string(plain), "\x00"), "\x02") // the last record's delimiter, before the padding
	if !found {
		return nil, errors.New("no delimiter of the last record")
	}
	return []byte(text), nil
}

// Received is a request that the push service got.
type Received struct {
	Path   string
	Header http.Header
	Body   []byte
}

// Claims checks the signature of the request (RFC 8292) with the key that it names, and returns that key and what is signed.
func (r Received) Claims(t *testing.T) (key string, claims map[string]any) {
	t.Helper()
	token, key, found := strings.Cut(strings.TrimPrefix(r.Header.Get("Authorization"), "vapid t="), ", k=")
	require.True(t, found, r.Header.Get("Authorization"))
	raw, err := base64.RawURLEncoding.DecodeString(key)
	require.NoError(t, err)
	public, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), raw)
	require.NoError(t, err)
	parts := strings.Split(token, ".")
	require.Len(t, parts, 3)
	signature, err := base64.RawURLEncoding.DecodeString(parts[2])
	require.NoError(t, err)
	require.Len(t, signature, 64)
	sum := sha256.Sum256([]byte(parts[0] + "." + parts[1]))
	require.True(t, ecdsa.Verify(public, sum[:], new(big.Int).SetBytes(signature[:32]), new(big.Int).SetBytes(signature[32:])), "the signature")
	doc, err := base64.RawURLEncoding.DecodeString(parts[1])
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(doc, &claims))
	return key, claims
}

// Service is a push service.
type Service struct {
	URL string

	mu       sync.Mutex
	received []Received
	answer   http.HandlerFunc
}

// Start runs a push service that takes everything, until the test ends.
func Start(t *testing.T) *Service {
	s := &Service{}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			http.Error(w, "cut off", http.StatusBadRequest)
			return
		}
		s.mu.Lock()
		s.received = append(s.received, Received{r.URL.Path, r.Header, body})
		answer := s.answer
		s.mu.Unlock()
		if answer != nil {
			answer(w, r)
			return
		}
		w.WriteHeader(http.StatusCreated)
	}))
	t.Cleanup(server.Close)
	s.URL = server.URL
	return s
}

// Answer makes the service answer like this; nil: it takes everything again.
func (s *Service) Answer(with http.HandlerFunc) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.answer = with
}

// Received returns what has come so far.
func (s *Service) Received() []Received {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Received(nil), s.received...)
}
