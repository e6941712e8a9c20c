package main

import (
	"os"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// processTime is the processor time that this process has used.
func processTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// diskBytes are the bytes that this process has had written to the disk.
func diskBytes() int64 {
	data, err := os.ReadFile("/proc/self/io")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(data)) {
		if n, ok := strings.CutPrefix(line, "write_bytes: "); ok {
			bytes, _ := strconv.ParseInt(strings.TrimSpace(n), 10, 64)
			return bytes
		}
	}
	return 0
}
