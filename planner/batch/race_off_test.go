//go:build !race

package batch

const raceSlows = false
