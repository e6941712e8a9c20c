package store

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"
)

// jobColumns are the columns of River's table of jobs in SQLite, as text or numbers. A running job lost its process when the service stopped.
const jobColumns = `id, CASE WHEN state = 'running' THEN 'available' ELSE state END, attempt, max_attempts, priority, kind, queue, json(args),
	json(attempted_by), json(errors), json(metadata), json(tags), attempted_at || '', created_at || '', finalized_at || '', scheduled_at || '', unique_key, unique_states` //nolint:misspell // River's column

const insertJob = `INSERT INTO river_job (id, state, attempt, max_attempts, priority, kind, queue, args, attempted_by, errors, metadata, tags,
	attempted_at, created_at, finalized_at, scheduled_at, unique_key, unique_states) VALUES ($1, CAST($2::text AS river_job_state), $3, $4, $5, $6, $7,
	CAST($8::text AS jsonb), CASE WHEN $9::text IS NULL THEN NULL ELSE ARRAY(SELECT jsonb_array_elements_text(CAST($9::text AS jsonb))) END,
	CASE WHEN $10::text IS NULL THEN NULL ELSE ARRAY(SELECT jsonb_array_elements(CAST($10::text AS jsonb))) END, CAST($11::text AS jsonb),
	ARRAY(SELECT jsonb_array_elements_text(CAST($12::text AS jsonb))), $13, $14, $15, $16, $17, CAST($18::integer AS bit(8)))` //nolint:misspell // River's column

// compareJobs reads the same of a job in both databases, with the times in milliseconds.
const compareJobs = "SELECT id, CAST(state AS text), attempt, priority, queue, args ->> 'what', args ->> 'site', args ->> 'key', unique_key, "

// job is a row of jobColumns.
type job struct {
	id                                          int64
	state                                       string
	attempt, most, priority                     int64
	kind, queue, args                           string
	attemptedBy, errors                         *string
	metadata, tags                              string
	attemptedAt, createdAt, finalAt, scheduleAt *string
	uniqueKey                                   []byte
	uniqueStates                                *int64
}

// jobs copies the queue: finished jobs too, since they are why nothing runs twice.
func (c copier) jobs(ctx context.Context) (done CopiedTable, err error) {
	rs, err := c.from.QueryContext(ctx, "SELECT "+jobColumns+" FROM river_job")
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, rs.Close()) }()
	batch := &pgx.Batch{}
	send := func() error {
		err := c.to.SendBatch(ctx, batch).Close()
		batch = &pgx.Batch{}
		return err
	}
	for rs.Next() {
		var j job
		if err := rs.Scan(&j.id, &j.state, &j.attempt, &j.most, &j.priority, &j.kind, &j.queue, &j.args, &j.attemptedBy, &j.errors, &j.metadata, &j.tags,
			&j.attemptedAt, &j.createdAt, &j.finalAt, &j.scheduleAt, &j.uniqueKey, &j.uniqueStates); err != nil {
			return done, err
		}
		values := []any{j.id, j.state, j.attempt, j.most, j.priority, j.kind, j.queue, j.args, j.attemptedBy, j.errors, j.metadata, j.tags}
		for _, at := range []*string{j.attemptedAt, j.createdAt, j.finalAt, j.scheduleAt} {
			t, err := riverInstant(at)
			if err != nil {
				return done, err
			}
			values = append(values, t)
		}
		batch.Queue(insertJob, append(values, j.uniqueKey, j.uniqueStates)...)
		if batch.Len() == 500 {
			if err := send(); err != nil {
				return done, err
			}
		}
	}
	if err := errors.Join(rs.Err(), send()); err != nil {
		return done, err
	}
	var wrote digest
	if err := c.jobDigest(ctx, &wrote); err != nil {
		return done, err
	}
	stored, err := c.digest(ctx, "SELECT id, state, attempt::bigint, priority::bigint, queue, what, site, key, unique_key, at FROM ("+
		compareJobs+postgresDialect().riverMs("scheduled_at")+" AS at FROM river_job) j (id, state, attempt, priority, queue, what, site, key, unique_key, at)")
	if err != nil {
		return done, err
	}
	if err := c.setSequence(ctx, "river_job", "id"); err != nil {
		return done, err
	}
	return compareDigests("river_job", wrote, stored)
}

// jobDigest reads the jobs of the file again for the comparison.
func (c copier) jobDigest(ctx context.Context, d *digest) (err error) {
	rs, err := c.from.QueryContext(ctx, compareJobs+sqliteDialect().riverMs("scheduled_at")+" FROM river_job")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rs.Close()) }()
	for rs.Next() {
		var id, attempt, priority, at int64
		var state, queue string
		var what, site, key *string
		var unique []byte
		if err := rs.Scan(&id, &state, &attempt, &priority, &queue, &what, &site, &key, &unique, &at); err != nil {
			return err
		}
		if state == "running" {
			state = "available"
		}
		values := []any{id, state, attempt, priority, queue}
		for _, text := range []*string{what, site, key} {
			if text == nil {
				values = append(values, nil)
			} else {
				values = append(values, *text)
			}
		}
		if unique == nil {
			values = append(values, nil, at)
		} else {
			values = append(values, unique, at)
		}
		if err := d.add(values); err != nil {
			return err
		}
	}
	return rs.Err()
}

// riverInstant reads an instant as River writes it on SQLite.
func riverInstant(at *string) (*time.Time, error) {
	if at == nil || *at == "" {
		return nil, nil
	}
	t, err := time.Parse(time.DateTime, *at) // with fractions
	return &t, err
}
