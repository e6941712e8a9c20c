package api

import (
	"context"
	"net/http"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type health struct {
	Status  string `json:"status"`
	Version string `json:"version,omitempty"`
}

// healthz reports that the process is running.
func (s *Server) healthz(c *gin.Context) error {
	return writeJSON(c, http.StatusOK, health{"ok", s.Version})
}

const (
	readyWithin = 2 * time.Second
	readyFor    = 2 * time.Second // one answer serves all who ask within this time, since each writes to the disk
	queueLate   = 15 * time.Minute
)

// readiness is how ready the service is. QueueAgeS and FreeDiskMB are null where they are not known.
type readiness struct {
	health
	Problems   []string `json:"problems"`     // what needs somebody's attention though requests are answered
	QueueAgeS  *int     `json:"queue_age_s"`  // how long the oldest job that is due has waited, s
	FreeDiskMB *int     `json:"free_disk_mb"` // of the database's disk
}

// readyCache keeps the last answer of readyz.
type readyCache struct {
	mu  sync.Mutex
	at  time.Time
	r   readiness
	err error
}

// readyz reports whether the service can take requests: the database can be written and the server is not shutting down.
func (s *Server) readyz(c *gin.Context) error {
	select {
	case <-s.closing:
		return notReady(noAnswer)
	default:
	}
	s.ready.mu.Lock()
	defer s.ready.mu.Unlock()
	if now := time.Now(); now.Sub(s.ready.at) >= readyFor {
		s.ready.r, s.ready.err = s.readiness(context.WithoutCancel(c.Request.Context()))
		s.ready.at = time.Now()
	}
	if s.ready.err != nil {
		return s.ready.err
	}
	return writeJSON(c, http.StatusOK, s.ready.r)
}

func (s *Server) readiness(ctx context.Context) (readiness, error) {
	ctx, cancel := context.WithTimeout(ctx, readyWithin)
	defer cancel()
	r := readiness{health: health{"ready", s.Version}, Problems: []string{}}
	if err := s.Store.Ready(ctx); err != nil {
		s.Log.ErrorContext(ctx, "not ready", "error", err)
		if models.CodeOf(err) == models.CodeStorage {
			return r, err
		}
		return r, notReady(noAnswer)
	}
	state := s.Store.StorageState()
	if state.Problem != "" {
		return r, models.StorageError(state.Problem)
	}
	if state.FreeBytes >= 0 {
		mb := int(state.FreeBytes / 1e6)
		r.FreeDiskMB = &mb
		if state.FreeBytes < models.LittleDisk {
			r.Problems = append(r.Problems, "little disk is left")
		}
	}
	queue, err := s.Store.QueueState(ctx)
	if err != nil {
		s.Log.ErrorContext(ctx, "not ready", "error", err)
		return r, notReady(noAnswer)
	}
	age := int(queue.OldestDue.Seconds())
	r.QueueAgeS = &age
	if queue.OldestDue > queueLate {
		r.Problems = append(r.Problems, "jobs are not run")
	}
	return r, nil
}
