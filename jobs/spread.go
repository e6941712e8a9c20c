package jobs

import (
	"crypto/sha256"
	"encoding/binary"
	"time"
)

// spread is the window, relative to when a schedule fires, in which each site has its own time, so that hundreds of shops in one time zone
// do not begin at once.
type spread struct{ from, to time.Duration }

// Windows of the schedules. Publishing begins early, so that the sheet is there at the time.
var (
	publishSpread = spread{-6 * time.Minute, -time.Minute}
	watchSpread   = spread{0, 3 * time.Minute}
	refitSpread   = spread{0, 30 * time.Minute}
	reviewSpread  = spread{0, 10 * time.Minute}
)

// of returns a site's time, always the same.
func (s spread) of(site string) time.Duration {
	share, _ := shares(site)
	return s.from + time.Duration(share*float64(s.to-s.from))
}

// secondOf is the second of each minute at which a site's schedules are checked.
func secondOf(site string) time.Duration {
	_, share := shares(site)
	return time.Duration(share*checkInterval.Seconds()) * time.Second
}

// shares returns two independent fractions, at least 0 and below 1, that depend on the site's code alone.
func shares(site string) (a, b float64) {
	sum := sha256.Sum256([]byte(site))
	fraction := func(k int) float64 { return float64(binary.BigEndian.Uint32(sum[k:])) / (1 << 32) }
	return fraction(0), fraction(4)
}
