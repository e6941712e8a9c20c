package store

import (
	"context"
	"database/sql"
	"log/slog"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver"
	"github.com/riverqueue/river/rivermigrate"
)

// riverOn is River with one of its drivers on database/sql: GORM's transactions are *sql.Tx, and a job completes in the transaction of its
// effect.
type riverOn[D riverdriver.Driver[*sql.Tx]] struct{ driver func(*sql.DB) D }

func (r riverOn[D]) migrate(ctx context.Context, db *sql.DB) error {
	m, err := rivermigrate.New(r.driver(db), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		return err
	}
	if _, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil); err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, waitingJobs)
	return err
}

func (r riverOn[D]) client(db *sql.DB, cfg *river.Config) (*river.Client[*sql.Tx], error) {
	return river.NewClient(r.driver(db), cfg)
}

func (riverOn[D]) complete(ctx context.Context, tx *sql.Tx, job *river.Job[jobArgs]) (*river.Job[jobArgs], error) {
	return river.JobCompleteTx[D](ctx, tx, job)
}
