//go:build linux || darwin

package store

import "syscall"

// freeDisk returns the bytes that the file system of a directory has for programs without special rights.
func freeDisk(dir string) (bytes int64, known bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true //nolint:unconvert // the types differ by system
}
