package store

import (
	"context"
	"database/sql"
	"fmt"

	"github.com/pressly/goose/v3"
)

// migrate migrates our schema and the queue's under a lock shared by all processes. A database with a newer schema is left as it is if it
// says that programs of this one can use it, and refused otherwise: replicas of two versions can run side by side, and the older program
// can be put back.
func migrate(ctx context.Context, d dialect, dsn string, db *sql.DB) (err error) {
	unlock, err := d.lock(ctx, dsn, "migrate")
	if err != nil {
		return fmt.Errorf("wait for the migration lock: %w", err)
	}
	defer func() {
		if e := unlock(); e != nil && err == nil {
			err = fmt.Errorf("release the migration lock: %w", e)
		}
	}()
	p, err := goose.NewProvider(d.goose, db, d.migrations, goose.WithDisableGlobalRegistry(true), goose.WithLogger(goose.NopLogger()))
	if err != nil {
		return fmt.Errorf("read the migrations: %w", err)
	}
	at, known, err := p.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read the schema's version: %w", err)
	}
	if at > known {
		return usable(ctx, db, at, known)
	}
	if _, err := p.Up(ctx); err != nil {
		return fmt.Errorf("migrate the schema from version %d: %w", at, err)
	}
	if err := d.river.migrate(ctx, db); err != nil {
		return fmt.Errorf("migrate the queue: %w", err)
	}
	return nil
}
