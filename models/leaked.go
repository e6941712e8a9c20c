package models

import (
	"crypto/sha256"
	_ "embed"
	"sort"
	"strings"
)

// leaked holds, in order, the first leakedSize bytes of the SHA-256 of leaked passwords in lower case: those long enough for a new password
// among the million most used ones of published leaks. Guessers begin with such lists. It has hashes, so that nobody has to read the passwords;
// testdata/checks/README.md says where they come from.
//
//go:embed leaked.bin
var leaked string

const leakedSize = 8

// isLeaked reports whether a password is known from leaks, in any case.
func isLeaked(password string) bool {
	sum := sha256.Sum256([]byte(strings.ToLower(password)))
	want, n := string(sum[:leakedSize]), len(leaked)/leakedSize
	at := func(i int) string { return leaked[i*leakedSize : (i+1)*leakedSize] }
	i := sort.Search(n, func(i int) bool { return at(i) >= want })
	return i < n && at(i) == want
}
