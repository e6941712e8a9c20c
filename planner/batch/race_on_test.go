//go:build race

package batch

// raceSlows says that the race detector makes everything some times slower: fewer instances tell it enough.
const raceSlows = true
