package store

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"runtime/debug"

	"github.com/pressly/goose/v3"
)

// About says how this build keeps data.
type About struct {
	Driver string // the module of the SQLite driver and its version
	SQLite string // the version of SQLite inside it
	Schema int    // the newest schema that this program knows; it migrates an older database to it and refuses a newer one
}

// Describe returns the About of this build. It opens no file.
func Describe() (a About, err error) {
	a.Driver = driverModule
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, m := range info.Deps {
			if m.Path == driverModule {
				a.Driver += " " + m.Version
			}
		}
	}
	if a.Schema, err = newestSchema(sqliteDialect().migrations); err != nil {
		return a, err
	}
	db, err := sql.Open(DriverName, ":memory:")
	if err != nil {
		return a, fmt.Errorf("ask SQLite for its version: %w", err)
	}
	err = db.QueryRow("SELECT sqlite_version()").Scan(&a.SQLite)
	return a, errors.Join(err, db.Close())
}

// newestSchema returns the highest number of the migrations.
func newestSchema(migrations fs.FS) (int, error) {
	files, err := fs.Glob(migrations, "*.sql")
	newest := int64(0)
	for _, f := range files {
		v, e := goose.NumericComponent(f)
		newest, err = max(newest, v), errors.Join(err, e)
	}
	return int(newest), err
}
