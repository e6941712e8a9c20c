package api

import (
	"log/slog"
	"net/http"
	"regexp"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/oklog/ulid/v2"
)

const requestIDHeader = "X-Request-Id"

// saneRequestID is a request ID that a proxy or program may choose; others are replaced.
var saneRequestID = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._:-]{0,99}$`)

// logRequest logs one line per request: address, caller, route, status, problem and duration, never the query, a secret or the body. The request
// ID is returned in the response.
func (s *Server) logRequest(c *gin.Context) {
	id := c.GetHeader(requestIDHeader)
	if !saneRequestID.MatchString(id) {
		id = ulid.Make().String()
	}
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
		slog.String("address", s.address(c)), slog.String("method", c.Request.Method), slog.String("route", c.FullPath()), slog.Int("status", c.Writer.Status()),
		slog.Int("bytes", max(0, c.Writer.Size())), slog.Duration("took", took), slog.String("request_id", id),
	}
	if problem := c.GetString(problemKey); problem != "" {
		attrs = append(attrs, slog.String("problem", problem))
	}
	if site := c.Param("site"); site != "" {
		attrs = append(attrs, slog.String("site", site))
	}
	if t, ok := callerToken(c); ok {
		attrs = append(attrs, slog.String("by", t.Name), slog.String("token", t.ID))
	}
	s.Log.LogAttrs(c.Request.Context(), level, "request", attrs...)
}
