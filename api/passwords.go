package api

import (
	"context"
	"sync"

	"github.com/alexedwards/argon2id"

	"hotday/models"
)

// defaultPasswordCost is the second recommended option of RFC 9106, for machines that cannot spend 2 GiB per sign-in (from memory):
// 64 MiB, three passes, four lanes.
var defaultPasswordCost = &argon2id.Params{Memory: 64 << 10, Iterations: 3, Parallelism: 4, SaltLength: 16, KeyLength: 32}

// maxConcurrentHashes bounds the memory that concurrent sign-ins use.
const maxConcurrentHashes = 2

func (s *Server) hashPassword(ctx context.Context, password string) (hash string, err error) {
	err = s.withHashSlot(ctx, func() (err error) {
		hash, err = argon2id.CreateHash(models.Password(password), s.PasswordCost)
		return err
	})
	return hash, err
}

// passwordMatches takes as long for an unknown person, or one without a password (hash ""), as for a wrong password.
func (s *Server) passwordMatches(ctx context.Context, password, hash string) (same bool, err error) {
	err = s.withHashSlot(ctx, func() (err error) {
		against := hash
		if hash == "" {
			against = s.dummyHash()
		}
		same, err = argon2id.ComparePasswordAndHash(models.Password(password), against)
		return err
	})
	return same && hash != "", err
}

// newDummyHash returns a function that computes, once, a hash to compare with when there is no password.
func newDummyHash(cost *argon2id.Params) func() string {
	return sync.OnceValue(func() string {
		hash, err := argon2id.CreateHash("", cost)
		if err != nil {
			panic(err) // only the system's random source can fail
		}
		return hash
	})
}

func (s *Server) withHashSlot(ctx context.Context, fn func() error) error {
	select {
	case s.hashSlots <- struct{}{}:
		defer func() { <-s.hashSlots }()
		return fn()
	case <-ctx.Done():
		return ctx.Err()
	}
}
