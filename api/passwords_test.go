package api_test

import (
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// attack guesses passwords for a name until the service refuses to judge more.
func (b *bundle) attack(name string) {
	b.t.Helper()
	for range 5 {
		if b.signInAs(name, "a wrong guess").status == http.StatusTooManyRequests {
			return
		}
	}
	b.signInAs(name, "a wrong guess").is(http.StatusTooManyRequests)
}

func deviceOf(a answer) string {
	for _, cookie := range a.header.Values("Set-Cookie") {
		if pair, _, _ := strings.Cut(cookie, ";"); strings.HasPrefix(pair, "hotday_device=") {
			return pair
		}
	}
	return ""
}

func (b *bundle) signInFrom(device, name, password string) answer {
	b.t.Helper()
	return b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"sign_in": name, "password": password}, header: map[string]string{"Cookie": device}})
}

func (b *bundle) person(name string) {
	b.t.Helper()
	_, code := b.invite(map[string]any{"name": name, "sign_in": name, "scopes": []string{"manage"}, "site": "quay"})
	b.welcome(code, goodPassword).is(http.StatusOK)
}

func TestParallelGuessesAreCountedBeforeTheyAreJudged(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.person("ada")
	for _, name := range []string{"ada", "nobody"} {
		var judged atomic.Int32
		var wg sync.WaitGroup
		for range 60 {
			wg.Go(func() {
				if a := b.signInAs(name, "a wrong guess"); a.status == http.StatusUnauthorized {
					judged.Add(1)
				}
			})
		}
		wg.Wait()
		require.LessOrEqual(t, judged.Load(), int32(5), name)
		b.clock.advance(time.Minute)
	}
}

func TestADeviceThatSignedInBeforeIsNotLockedOutByStrangers(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.person("ada")
	b.person("ben")
	device := deviceOf(b.signInAs("ada", goodPassword).is(201))
	require.NotEmpty(t, device)
	b.attack("ada")
	b.signInAs("ada", goodPassword).is(http.StatusTooManyRequests)
	b.signInFrom(device, "ada", goodPassword).is(http.StatusCreated)
	b.signInFrom(device+"0", "ada", goodPassword).is(http.StatusTooManyRequests)
	for range 20 { // nor by the address's limit
		b.signInAs("somebody"+time.Now().String(), "a wrong guess")
	}
	b.signInFrom(device, "ada", goodPassword).is(http.StatusCreated)

	// It is ada's alone, and its own wrong attempts count.
	b.clock.advance(time.Minute)
	b.attack("ben")
	b.signInFrom(device, "ben", goodPassword).is(http.StatusTooManyRequests)
	for range 5 {
		b.signInFrom(device, "ada", "a wrong guess").is(http.StatusUnauthorized)
	}
	b.signInFrom(device, "ada", goodPassword).is(http.StatusTooManyRequests)
	b.clock.advance(time.Hour)

	// A second person of the same browser keeps it for the first.
	both := deviceOf(b.signInFrom(device, "ben", goodPassword).is(http.StatusCreated))
	b.attack("ada")
	b.signInFrom(both, "ada", goodPassword).is(http.StatusCreated)

	// A new password ends it, as does its time.
	b.clock.advance(time.Hour)
	ada := b.visit("ada", goodPassword)
	ada.do("PUT", "/v1/password", map[string]any{"old": goodPassword, "password": goodPassword + " and more"}).is(http.StatusNoContent)
	b.attack("ada")
	b.signInFrom(both, "ada", goodPassword+" and more").is(http.StatusTooManyRequests)
	b.clock.advance(401 * 24 * time.Hour)
	b.attack("ben")
	b.signInFrom(both, "ben", goodPassword).is(http.StatusTooManyRequests)
}

func TestAPersonWhoIsSignedInChangesThePasswordDuringAnAttack(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.person("ada")
	ada := b.visit("ada", goodPassword)
	b.attack("ada")
	ada.do("PUT", "/v1/password", map[string]any{"old": goodPassword, "password": goodPassword + " and more"}).is(http.StatusNoContent)
}

func TestUnknownNamesAndAddressesAreTreatedAlike(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.person("ada")
	transcript := func(name string) (out string) {
		for range 8 {
			a := b.signInAs(name, "a wrong guess")
			out += strings.ReplaceAll(string(a.body), name, "NAME") + a.header.Get("Retry-After") + deviceOf(a) + "\n"
		}
		b.clock.advance(time.Minute)
		return out
	}
	require.Equal(t, transcript("ada"), transcript("nobody"))
}
