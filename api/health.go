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

// healthz reports that the process is running.
func (s *Server) healthz(c *gin.Context) error {
	return writeJSON(c, http.StatusOK, health{"ok", s.Version})
}

const readyWithin = 2 * time.Second

// readyz reports whether the service can take requests: the database responds and the server is not shutting down.
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
	return writeJSON(c, http.StatusOK, health{"ready", s.Version})
}
