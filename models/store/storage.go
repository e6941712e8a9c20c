package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"hotday/models"
)

const (
	// turnWait is how long a transaction waits for those before it, in this process and, on PostgreSQL, for a lock. SQLite waits for other
	// programs on its own (busy_timeout).
	turnWait = 15 * time.Second
	// troubleTime is how long a failure to save counts unless something was saved since.
	troubleTime = 5 * time.Minute
)

// trouble is the last failure to save.
type trouble struct {
	reason string
	at     time.Time
}

// saved records the outcome of a write transaction and returns its error, as CodeStorage where the disk or a lock is the cause.
func (sh *shared) saved(err error) error {
	if err == nil {
		if sh.trouble.Swap(nil) != nil {
			sh.log.Info("the database can be written again")
		}
		return nil
	}
	reason := sh.dialect.reason(err)
	err = sh.storageError(err)
	if reason != "" && reason != models.StorageBusy { // which is over at once
		if sh.trouble.Swap(&trouble{reason, time.Now()}) == nil {
			sh.log.Error("nothing can be saved", "reason", reason, "error", err)
		}
	}
	return err
}

// storageError makes an error of the disk, a lock or the way to the database CodeStorage; others are returned as they are.
func (sh *shared) storageError(err error) error {
	if err != nil && sh.dialect.badText != nil && sh.dialect.badText(err) {
		return models.Errorf(models.CodeNotFound, "a text has U+0000 or is not UTF-8: nothing that is stored has such a text")
	}
	reason := sh.dialect.reason(err)
	if reason == "" || models.CodeOf(err) == models.CodeStorage {
		return err
	}
	return fmt.Errorf("%w (%w)", models.StorageError(reason), err)
}

// cannotSave returns why nothing could be saved lately, "" if the last attempt succeeded.
func (sh *shared) cannotSave() string {
	if t := sh.trouble.Load(); t != nil && time.Since(t.at) < troubleTime {
		return t.reason
	}
	return ""
}

// errTurn is the error of a transaction that others kept waiting.
var errTurn = errors.New("waited too long for other transactions")

// takeTurn waits until fewer transactions of this process write than may at once.
func (sh *shared) takeTurn(ctx context.Context) (done func(), err error) {
	wait := time.NewTimer(turnWait)
	defer wait.Stop()
	select {
	case sh.turn <- struct{}{}:
		return func() { <-sh.turn }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	case <-wait.C:
		return nil, fmt.Errorf("%w (%w)", models.StorageError(models.StorageLocked), errTurn)
	}
}

// note writes something that is not worth failing for, such as when a key was last used. Nothing is tried while nothing can be saved.
func (s *Store) note(ctx context.Context, write func(*Store) error) error {
	if s.cannotSave() != "" {
		return nil
	}
	err := s.within(ctx, write)
	if models.CodeOf(err) == models.CodeStorage {
		return nil
	}
	return err
}

// Ready reports whether the database answers and can be written, by writing to it.
func (s *Store) Ready(ctx context.Context) error {
	db, err := s.writeDB.Conn(ctx)
	if err == nil {
		_, err = db.ExecContext(ctx, "UPDATE write_probe SET at = "+s.dialect.placeholder(1)+" WHERE id = 1", ms(time.Now()))
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		return fmt.Errorf("write to the database: %w", s.storageError(err))
	}
	return nil
}

// StorageState returns how the storage stands, without writing.
func (s *Store) StorageState() models.StorageState {
	state := models.StorageState{Problem: s.cannotSave(), FreeBytes: -1}
	if free, known := s.dialect.freeDisk(s.dsn); known {
		state.FreeBytes = free
	}
	return state
}
