package api

import (
	"context"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
)

type health struct {
	Status  string `json:"status"`
	Version string `json:"version,omitempty"`
}

// healthz says that the program runs.
func (s *Server) healthz(c *gin.Context) error {
	return answer(c, http.StatusOK, health{"ok", s.Version})
}

const readyWithin = 2 * time.Second

// readyz says that the program can serve: the database answers, and the server is not shutting down.
func (s *Server) readyz(c *gin.Context) error {
	ctx, cancel := context.WithTimeout(c.Request.Context(), readyWithin)
	defer cancel()
	select {
	case <-s.closing:
		return notReady()
	default:
	}
	if err := s.Store.Ready(ctx); err != nil {
		s.Log.ErrorContext(ctx, "not ready", "error", err)
		return notReady()
	}
	return answer(c, http.StatusOK, health{"ready", s.Version})
}
