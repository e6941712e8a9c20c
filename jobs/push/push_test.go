package push_test

import (
	"crypto/ecdh"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/jobs/push"
	"hotday/jobs/push/pushtest"
	"hotday/models"
)

func bytesOf(t *testing.T, text string) []byte {
	t.Helper()
	b, err := base64.RawURLEncoding.DecodeString(text)
	require.NoError(t, err)
	return b
}

// The example of RFC 8291, section 5, checks the receiver that the other tests decrypt with.
func TestTheReceiverReadsTheExampleOfRFC8291(t *testing.T) {
	t.Parallel()
	key, err := ecdh.P256().NewPrivateKey(bytesOf(t, "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"))
	require.NoError(t, err)
	b := pushtest.Browser{Key: key, Auth: bytesOf(t, "BTBZMqHH6r4Tts7J_aSIgg")}
	require.Equal(t, "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4", b.Keys().P256dh)
	text, err := b.Decrypt(bytesOf(t, "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"))
	require.NoError(t, err)
	require.Equal(t, "When I grow up, I want to be a watermelon", string(text))
}

func keyPair(t *testing.T) push.Key {
	t.Helper()
	b := pushtest.NewBrowser(t).Key
	return push.Key{Public: base64.RawURLEncoding.EncodeToString(b.PublicKey().Bytes()), Private: base64.RawURLEncoding.EncodeToString(b.Bytes())}
}

func TestAMessageIsEncryptedSignedAndPadded(t *testing.T) {
	t.Parallel()
	service, browser, key := pushtest.Start(t), pushtest.NewBrowser(t), keyPair(t)
	d := models.PushDevice{Endpoint: service.URL + "/send/1", Keys: browser.Keys()}
	note := push.Note{ID: "push_1", Lang: "de", Title: "Jetzt handeln · Café", Body: "Eis <aus> um 16:00", Page: "weekend", Settings: "Mitteilungen"}
	m := push.Message{ID: "push_1", Key: key, Note: note, TTL: 90 * time.Minute, Urgent: true, Subject: "https://cafe.example"}
	answer, err := push.Send(t.Context(), http.DefaultClient, d, m, 100)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, answer.Status)
	long := m
	long.Note.Title, long.Note.Body, long.Urgent = strings.Repeat("氷", 1000), strings.Repeat("\U0001F9CA", 1000), false
	_, err = push.Send(t.Context(), http.DefaultClient, d, long, 100)
	require.NoError(t, err, "what is too long is cut, not lost")

	got := service.Received()
	require.Len(t, got, 2)
	r := got[0]
	require.Equal(t, "/send/1", r.Path)
	require.Equal(t, "aes128gcm", r.Header.Get("Content-Encoding"))
	require.Equal(t, "5400", r.Header.Get("TTL"))
	require.Equal(t, "high", r.Header.Get("Urgency"))
	require.Equal(t, "normal", got[1].Header.Get("Urgency"))
	require.Equal(t, "push_1", r.Header.Get("Topic"))
	require.LessOrEqual(t, len(r.Body), 4096, "what every push service takes")
	require.Len(t, got[1].Body, len(r.Body), "the length says nothing")
	require.NotContains(t, string(r.Body), "Eis")
	text, err := browser.Decrypt(r.Body)
	require.NoError(t, err)
	var read push.Note
	require.NoError(t, json.Unmarshal(text, &read))
	require.Equal(t, note, read)
	_, err = pushtest.NewBrowser(t).Decrypt(r.Body)
	require.Error(t, err, "no other browser reads it")
	text, err = browser.Decrypt(got[1].Body)
	require.NoError(t, err)
	require.True(t, json.Valid(text))

	used, claims := r.Claims(t)
	require.Equal(t, key.Public, used)
	require.Equal(t, service.URL, claims["aud"])
	require.Equal(t, "https://cafe.example", claims["sub"])
	until := time.Unix(int64(claims["exp"].(float64)), 0)
	require.True(t, until.After(time.Now()) && until.Before(time.Now().Add(24*time.Hour)), "at most a day (RFC 8292, section 2)")
}

func TestKeysThatNothingCanBeEncryptedFor(t *testing.T) {
	t.Parallel()
	service, good := pushtest.Start(t), pushtest.NewBrowser(t).Keys()
	for name, k := range map[string]models.PushKeys{
		"no point": {P256dh: "BCVx", Auth: good.Auth}, "off the curve": {P256dh: "BAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", Auth: good.Auth},
		"a short secret": {P256dh: good.P256dh, Auth: "BTBZ"}, "no base64": {P256dh: good.P256dh, Auth: "!"},
	} {
		require.Error(t, k.Check("/keys"), name)
		_, err := push.Send(t.Context(), http.DefaultClient, models.PushDevice{Endpoint: service.URL, Keys: k}, push.Message{ID: "x", Key: keyPair(t)}, 100)
		require.ErrorIs(t, err, push.ErrNote, name)
	}
	require.NoError(t, good.Check("/keys"))
	require.NoError(t, models.PushKeys{P256dh: good.P256dh + "=", Auth: good.Auth + "=="}.Check("/keys"), "padded too")
	require.Empty(t, service.Received())
}

func TestSubject(t *testing.T) {
	t.Parallel()
	for origin, want := range map[string]string{"https://cafe.example:8443": "https://cafe.example:8443", "http://localhost:8080": "https://localhost:8080", "": "https://localhost"} {
		require.Equal(t, want, push.Subject(origin))
	}
}
