package store

import (
	"context"
	"fmt"
	"time"

	"github.com/riverqueue/river/rivertype"

	"hotday/models"
)

// stateWaits is the condition that a job waits, of the index waitingJobs too.
const stateWaits = "state IN ('available', 'pending', 'retryable', 'scheduled')"

// waitingJobs is an index of few rows, however many finished jobs are kept. It is made after each of River's migrations, which may rebuild
// the table.
const waitingJobs = `CREATE INDEX IF NOT EXISTS hotday_waiting_jobs ON river_job ((args ->> 'site'), (args ->> 'what')) WHERE ` + stateWaits

// riverTime is how River writes instants on SQLite, in UTC.
const riverTime = "2006-01-02 15:04:05.000"

// QueueState reads how the queue stands, without its own work, by the machine's clock, which is the queue's.
func (s *Store) QueueState(ctx context.Context) (q models.QueueState, err error) {
	type group struct {
		State string
		N     int
		Due   *int64 // without those of the night; nil: none
		Since *int64 // nil: none was attempted
	}
	groups, err := rows[group](ctx, s, `SELECT state, COUNT(*) AS n, `+s.dialect.riverMs("MIN(CASE WHEN queue <> ? THEN scheduled_at END)")+` AS due,
		`+s.dialect.riverMs("MIN(attempted_at)")+` AS since FROM river_job WHERE state IN ('available', 'running', 'scheduled', 'retryable', 'discarded') AND args ->> 'what' <> ?
		GROUP BY state`, queues[models.LineNight], releaseLost)
	if err != nil {
		return q, fmt.Errorf("read the state of the queue: %w", err)
	}
	now := time.Now()
	age := func(at *int64) time.Duration {
		if at == nil {
			return 0
		}
		return max(0, now.Sub(instant(*at)))
	}
	for _, g := range groups {
		switch rivertype.JobState(g.State) {
		case rivertype.JobStateAvailable:
			q.Due, q.OldestDue = g.N, age(g.Due)
		case rivertype.JobStateRunning:
			q.Running = g.N
			q.LongestRunning = age(g.Since)
		case rivertype.JobStateDiscarded:
			q.GivenUp = g.N
		default:
			q.Later += g.N
		}
	}
	return q, nil
}

// FileSizes returns the bytes of the database and of its write-ahead log, 0 where that is a server's.
func (s *Store) FileSizes() (database, log int64, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), turnWait)
	defer cancel()
	return s.dialect.sizes(ctx, s.shared)
}
