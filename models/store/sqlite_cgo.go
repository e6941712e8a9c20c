//go:build cgo

package store

import (
	"errors"

	"github.com/mattn/go-sqlite3"
)

// DriverName is the name under which database/sql knows the driver: SQLite in C where a C compiler built the program.
const DriverName = "sqlite3"

const driverModule = "github.com/mattn/go-sqlite3"

func sqliteCode(err error) int {
	var e sqlite3.Error
	if errors.As(err, &e) {
		return int(e.Code)
	}
	return 0
}
