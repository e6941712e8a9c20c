//go:build !linux

package main

import "time"

// processTime and diskBytes are known on Linux alone.
func processTime() time.Duration { return 0 }
func diskBytes() int64           { return 0 }
