package api

import (
	"sync"

	"github.com/alexedwards/argon2id"
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// defaultPasswordCost is the second recommended option of RFC 9106, for machines that cannot spend 2 GiB per sign-in (from memory):
// 64 MiB, three passes, four lanes.
var defaultPasswordCost = &argon2id.Params{Memory: 64 << 10, Iterations: 3, Parallelism: 4, SaltLength: 16, KeyLength: 32}

// hasher is who waits for a hash: strangers by address and by name, people by a device that has signed in before or by their session. A
// hash takes 64 MiB and both cores for a moment, so one of each kind runs at a time.
type hasher struct {
	known bool
	key   string // by which a known one is counted
	name  string
}

func (s *Server) hashPassword(c *gin.Context, who hasher, password string) (hash string, err error) {
	err = s.inHashQueue(c, who, func() (err error) {
		hash, err = argon2id.CreateHash(models.Password(password), s.PasswordCost)
		return err
	})
	return hash, err
}

// passwordMatches takes as long for an unknown person, or one without a password (hash ""), as for a wrong password.
func (s *Server) passwordMatches(c *gin.Context, who hasher, password, hash string) (same bool, err error) {
	err = s.inHashQueue(c, who, func() (err error) {
		against := hash
		if hash == "" {
			against = s.dummyHash()
		}
		same, err = argon2id.ComparePasswordAndHash(models.Password(password), against)
		return err
	})
	return same && hash != "", err
}

func (s *Server) inHashQueue(c *gin.Context, who hasher, fn func() error) error {
	line, key := &s.budgets.hashes, "at "+s.limitKey(c)
	if who.known {
		line, key = &s.budgets.knownHashes, who.key
	} else {
		done, err := s.reserveFor(c, &s.budgets.names, who.name, 1)
		if err != nil {
			return err
		}
		defer done()
	}
	done, err := s.reserveFor(c, line, key, 1)
	if err != nil {
		return err
	}
	defer done()
	return fn()
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
