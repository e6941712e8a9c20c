package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// lockSpace and replicaSpace are the first keys of the advisory locks: of names, and of replicas that are running. The server releases a
// replica's lock when its connection ends, whatever the reason.
const (
	lockSpace    = "1752134001"
	replicaSpace = "1752134002"
)

// postgresLock holds an advisory lock on a connection of its own.
func postgresLock(ctx context.Context, dsn, name string) (func() error, error) {
	c, err := connectPostgres(ctx, dsn)
	if err != nil {
		return nil, err
	}
	end := func() error { return closePostgres(ctx, c) }
	if _, err := c.Exec(ctx, "SELECT pg_advisory_lock("+lockSpace+", hashtext($1))", name); err != nil {
		return nil, errors.Join(err, ctx.Err(), end())
	}
	return end, nil
}

func connectPostgres(ctx context.Context, dsn string) (*pgx.Conn, error) {
	config, err := postgresConfig(dsn)
	if err != nil {
		return nil, err
	}
	return pgx.ConnectConfig(ctx, config)
}

// closePostgres closes a connection politely if the server still answers.
func closePostgres(ctx context.Context, c *pgx.Conn) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Second)
	defer cancel()
	return c.Close(ctx)
}

// lostHolders are the clients of the queue that hold jobs but no replica's lock.
const lostHolders = `SELECT DISTINCT j.holder FROM (SELECT attempted_by[array_length(attempted_by, 1)] AS holder FROM river_job WHERE state = 'running') j
	WHERE j.holder IS NOT NULL AND NOT EXISTS (SELECT 1 FROM pg_locks l JOIN pg_database d ON d.oid = l.database WHERE d.datname = current_database()
	AND l.locktype = 'advisory' AND l.granted AND l.classid = ` + replicaSpace + ` AND l.objid::bigint = hashtext(j.holder)::bigint & 4294967295)`

// replicaPoll is how often a replica looks for jobs of others that are gone.
const replicaPoll = 5 * time.Second

// watchReplicas holds the replica's lock until ctx ends. After a cut it connects again;
// jobs that others took meanwhile do not take effect here, see complete.
func watchReplicas(ctx context.Context, sh *shared, client string, shown func(), lost func(context.Context) error) {
	for ctx.Err() == nil {
		err := watchFrom(ctx, sh, client, shown, lost)
		if ctx.Err() != nil {
			return
		}
		sh.log.WarnContext(ctx, "the connection that shows other replicas that this one runs was cut; connecting again", "error", err)
		pause(ctx, time.Second)
	}
}

func watchFrom(ctx context.Context, sh *shared, client string, shown func(), lost func(context.Context) error) (err error) {
	c, err := connectPostgres(ctx, sh.dsn)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closePostgres(ctx, c)) }()
	if _, err := c.Exec(ctx, "SELECT pg_advisory_lock_shared("+replicaSpace+", hashtext($1))", client); err != nil {
		return err
	}
	shown()
	for {
		var n int
		if err := c.QueryRow(ctx, "SELECT COUNT(*) FROM ("+lostHolders+") lost").Scan(&n); err != nil {
			return err
		}
		if n > 0 {
			if err := lost(ctx); err != nil {
				return fmt.Errorf("give lost jobs back: %w", err)
			}
		}
		if !pause(ctx, replicaPoll) {
			return nil
		}
	}
}

// pause waits, and reports whether ctx is still open.
func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}
