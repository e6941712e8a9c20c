package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"
)

// forgetAfter is how long an attempt that nobody works on counts as running. River gives up after 3 tries of 10 s with 1 to 4 s between them
// to store how an attempt ended, and where an answer is lost on its way it never begins one: either would wait for rescueAfter.
const forgetAfter = time.Minute

// attempt is one attempt of a job.
type attempt struct {
	ID int64 `json:"id"`
	N  int   `json:"n"`
}

// attempts are those that this process works on.
type attempts struct{ list sync.Map }

func (a *attempts) begin(job *rivertype.JobRow) (end func()) {
	key := attempt{job.ID, job.Attempt}
	a.list.Store(key, true)
	return func() { a.list.Delete(key) }
}

func (a *attempts) has(key attempt) bool {
	_, ok := a.list.Load(key)
	return ok
}

// releaseForgotten gives back, until ctx ends, attempts that count as running in this process though it does not work on them.
func (s *Store) releaseForgotten(ctx context.Context, client *river.Client[*sql.Tx], busy *attempts) {
	since := map[attempt]time.Time{}
	for pause(ctx, s.forget/6) {
		held, err := client.JobList(ctx, river.NewJobListParams().States(rivertype.JobStateRunning).First(maxHeld))
		if err != nil {
			continue // the database is away, which others say
		}
		idle := map[attempt]time.Time{}
		var forgotten []attempt
		for _, row := range held.Jobs {
			key := attempt{row.ID, row.Attempt}
			if n := len(row.AttemptedBy); n == 0 || row.AttemptedBy[n-1] != client.ID() || busy.has(key) {
				continue
			}
			first, known := since[key]
			if !known {
				first = time.Now()
			}
			if idle[key] = first; time.Since(first) >= s.forget {
				forgotten = append(forgotten, key)
			}
		}
		if since = idle; len(forgotten) == 0 {
			continue
		}
		args, err := json.Marshal(forgotten)
		if err == nil {
			err = queueRelease(ctx, client, fmt.Sprint(client.ID(), time.Now().UnixNano()), args)
		}
		if err != nil {
			s.log.WarnContext(ctx, "jobs whose end could not be stored wait a little longer", "error", err)
		}
	}
}
