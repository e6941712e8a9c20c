package api

import (
	"log/slog"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/oklog/ulid/v2"
)

const requestIDHeader = "X-Request-Id"

// logRequest logs one line per request. It logs the route and the token's ID, never the query, a secret or the body.
func (s *Server) logRequest(c *gin.Context) {
	id := ulid.Make().String()
	c.Header(requestIDHeader, id)
	start := time.Now() // the duration is real time, not the service's clock
	c.Next()
	took := time.Since(start)
	if c.FullPath() != livePath || c.Writer.Status() != http.StatusOK { // open streams are counted as such
		s.Measures.Request(c.Request.Method, c.FullPath(), c.Writer.Status(), took)
	}
	level := slog.LevelInfo
	switch path := c.FullPath(); {
	case c.Writer.Status() >= http.StatusInternalServerError:
		level = slog.LevelError
	case path == "/healthz" || path == "/readyz":
		level = slog.LevelDebug
	}
	attrs := []slog.Attr{
		slog.String("method", c.Request.Method), slog.String("route", c.FullPath()), slog.Int("status", c.Writer.Status()),
		slog.Int("bytes", max(0, c.Writer.Size())), slog.Duration("took", took), slog.String("request_id", id),
	}
	if site := c.Param("site"); site != "" {
		attrs = append(attrs, slog.String("site", site))
	}
	if t, ok := callerToken(c); ok {
		attrs = append(attrs, slog.String("token", t.ID))
	}
	s.Log.LogAttrs(c.Request.Context(), level, "request", attrs...)
}
