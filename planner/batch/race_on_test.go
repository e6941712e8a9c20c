//go:build race

package batch

// raceSlows reports whether the race detector is on, which is several times slower: fewer instances are enough for it.
const raceSlows = true
