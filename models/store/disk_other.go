//go:build !linux && !darwin

package store

// freeDisk does not know the free space of other systems.
func freeDisk(string) (bytes int64, known bool) { return 0, false }
