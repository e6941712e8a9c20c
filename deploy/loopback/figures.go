package loopback

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"
)

// ticks is the unit of /proc/PID/stat on Linux: hundredths of a second.
const ticks = 100

// ProcessTime is the processor time that the service has used, 0 where /proc does not tell.
func (s *Service) ProcessTime() time.Duration {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", s.process.Process.Pid))
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(data), ") ")
	fields := strings.Fields(rest)
	if len(fields) < 13 {
		return 0
	}
	user, err1 := strconv.Atoi(fields[11])
	system, err2 := strconv.Atoi(fields[12])
	if err1 != nil || err2 != nil {
		return 0
	}
	return time.Duration(user+system) * time.Second / ticks
}

// PeakMemory is the most memory that the service has held, in words: as /proc tells it.
func (s *Service) PeakMemory() string {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.process.Process.Pid))
	if err != nil {
		return "an unknown amount"
	}
	for line := range strings.Lines(string(data)) {
		if kb, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			if n, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(kb), "kB"))); err == nil {
				return fmt.Sprintf("%d MiB", n>>10)
			}
		}
	}
	return "an unknown amount"
}

// Spread is how long requests took: half of them, 99 %, and all of them at most; zero for none.
func Spread(took []time.Duration) (half, most, all time.Duration) {
	if len(took) == 0 {
		return 0, 0, 0
	}
	sorted := slices.Sorted(slices.Values(took))
	at := func(share float64) time.Duration {
		return sorted[min(len(sorted)-1, int(share*float64(len(sorted))))]
	}
	return at(0.5), at(0.99), at(1)
}
