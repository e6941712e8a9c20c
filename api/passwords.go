package api

import (
	"context"
	"sync"
	"time"

	"github.com/alexedwards/argon2id"

	"hotday/models"
)

// defaultPasswordCost is the second of the two settings that RFC 9106 recommends, for machines that cannot give 2 GiB to a sign-in
// (from memory): 64 MiB, three passes, four lanes.
var defaultPasswordCost = &argon2id.Params{Memory: 64 << 10, Iterations: 3, Parallelism: 4, SaltLength: 16, KeyLength: 32}

// hashesAtOnce bounds the memory that sign-ins take, however many come.
const hashesAtOnce = 2

func (s *Server) hashPassword(ctx context.Context, password string) (hash string, err error) {
	err = s.inTurn(ctx, func() (err error) {
		hash, err = argon2id.CreateHash(models.Password(password), s.PasswordCost)
		return err
	})
	return hash, err
}

// samePassword takes as long for a person without a password, or for nobody at all, as for a wrong one.
func (s *Server) samePassword(ctx context.Context, password, hash string) (same bool, err error) {
	err = s.inTurn(ctx, func() (err error) {
		against := hash
		if hash == "" {
			against = s.nobody()
		}
		same, err = argon2id.ComparePasswordAndHash(models.Password(password), against)
		return err
	})
	return same && hash != "", err
}

// nobodyHash makes what a password is held against where nobody has one, once.
func nobodyHash(cost *argon2id.Params) func() string {
	return sync.OnceValue(func() string {
		hash, err := argon2id.CreateHash("", cost)
		if err != nil {
			panic(err) // the system's randomness never fails
		}
		return hash
	})
}

func (s *Server) inTurn(ctx context.Context, fn func() error) error {
	select {
	case s.hashing <- struct{}{}:
		defer func() { <-s.hashing }()
		return fn()
	case <-ctx.Done():
		return ctx.Err()
	}
}

// backoff makes whoever guesses at one name wait longer after each wrong guess, whether or not somebody has the name: nobody
// learns from it which names exist, and nobody can lock a person out for longer than longestWait.
type backoff struct {
	now func() time.Time

	mu    sync.Mutex
	wrong map[string]guesses
}

type guesses struct {
	n    int
	last time.Time
}

const (
	freeGuesses = 5 // a person mistypes
	longestWait = time.Hour
	forgotten   = 24 * time.Hour
)

// wait returns how long the name has to wait until its next try.
func (b *backoff) wait(name string) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	g, ok := b.wrong[name]
	if !ok || g.n < freeGuesses {
		return 0
	}
	pause := min(longestWait, time.Second<<min(g.n-freeGuesses, 20))
	return max(0, g.last.Add(pause).Sub(b.now()))
}

func (b *backoff) guessedWrong(name string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.wrong == nil {
		b.wrong = map[string]guesses{}
	}
	now := b.now()
	if len(b.wrong) >= keysKept {
		for k, g := range b.wrong {
			if now.Sub(g.last) > forgotten {
				delete(b.wrong, k)
			}
		}
		for k := range b.wrong { // still full: somebody tries many names; any one makes room
			if len(b.wrong) < keysKept {
				break
			}
			delete(b.wrong, k)
		}
	}
	g := b.wrong[name]
	if now.Sub(g.last) > forgotten {
		g.n = 0
	}
	b.wrong[name] = guesses{g.n + 1, now}
}

func (b *backoff) guessedRight(name string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.wrong, name)
}
