package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
)

// privateMode is the mode of every file that the store creates. SQLite gives the -wal and -shm files the mode of the database.
const privateMode = 0o600

// createPrivate creates an empty file that only its owner can read, unless it exists. SQLite itself would let others read it.
func createPrivate(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, privateMode)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return f.Close()
}

// openModes returns a sentence for each of the database's files that others than its owner can read or write, with the remedy. Windows
// has no such modes.
func openModes(dsn, keyFile string) (open []string) {
	if runtime.GOOS == "windows" {
		return nil
	}
	for _, name := range []string{dsn, dsn + "-wal", dsn + "-shm", keyFile} {
		there, err := os.Stat(name)
		if err == nil && there.Mode().Perm()&0o077 != 0 {
			open = append(open, fmt.Sprintf("others can open %s (mode %04o): chmod 600 %s", name, there.Mode().Perm(), name))
		}
	}
	return open
}
