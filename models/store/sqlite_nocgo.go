//go:build !cgo

package store

import (
	"errors"

	"modernc.org/sqlite"
)

// DriverName is the name under which database/sql knows the driver: SQLite translated to Go where no C compiler was at hand.
const DriverName = "sqlite"

const driverModule = "modernc.org/sqlite"

func sqliteCode(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code() & 0xff // without the extension
	}
	return 0
}
