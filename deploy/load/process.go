package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// ticks is the unit of /proc/PID/stat on Linux: hundredths of a second.
const ticks = 100

// processTime is the processor time that a process has used, 0 where /proc does not tell.
func processTime(pid int) time.Duration {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
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

// peakMemory is the most memory that a process has held, as /proc tells it.
func peakMemory(pid int) string {
	data, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return "an unknown amount"
	}
	for line := range strings.Lines(string(data)) {
		if kb, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			return strings.TrimSpace(kb)
		}
	}
	return "an unknown amount"
}
