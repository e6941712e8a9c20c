package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"hotday/deploy/loopback"
)

// tally collects how long requests took and how they were answered, by name.
type tally struct {
	mu    sync.Mutex
	took  map[string][]time.Duration
	codes map[string]map[int]int
}

func (t *tally) add(name string, took time.Duration, status int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.took == nil {
		t.took, t.codes = map[string][]time.Duration{}, map[string]map[int]int{}
	}
	t.took[name] = append(t.took[name], took)
	if t.codes[name] == nil {
		t.codes[name] = map[int]int{}
	}
	t.codes[name][status]++
}

// table has a line for each name.
func (t *tally) table() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	var b strings.Builder
	for _, name := range slices.Sorted(maps.Keys(t.took)) {
		half, most, all := loopback.Spread(t.took[name])
		round := func(d time.Duration) time.Duration { return d.Round(100 * time.Microsecond) }
		fmt.Fprintf(&b, "  %-28s %5d  p50 %8s  p99 %8s  max %8s  answers %v\n", name, len(t.took[name]), round(half), round(most), round(all), t.codes[name])
	}
	return b.String()
}

// statuses is how often each status was answered; 0: the connection was closed.
func (t *tally) statuses() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	sum := map[int]int{}
	for _, codes := range t.codes {
		for status, n := range codes {
			sum[status] += n
		}
	}
	return fmt.Sprint(sum)
}
