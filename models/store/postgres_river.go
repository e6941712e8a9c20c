package store

import (
	"context"
	"database/sql"
	"log/slog"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/rivermigrate"
)

// riverPostgres is River on database/sql: GORM's transactions are *sql.Tx, and a job completes in the transaction of its effect.
type riverPostgres struct{}

func (riverPostgres) migrate(ctx context.Context, db *sql.DB) error {
	m, err := rivermigrate.New(riverdatabasesql.New(db), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	if _, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, waitingJobs)
	return err
}

func (riverPostgres) client(db *sql.DB, cfg *river.Config) (*river.Client[*sql.Tx], error) {
	return river.NewClient(riverdatabasesql.New(db), cfg)
}

func (riverPostgres) complete(ctx context.Context, tx *sql.Tx, job *river.Job[jobArgs]) (*river.Job[jobArgs], error) {
	return river.JobCompleteTx[*riverdatabasesql.Driver](ctx, tx, job)
}
