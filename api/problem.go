package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"runtime/debug"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

const problemType = "application/problem+json"

// protocolError is a mistake in how HTTP is spoken, which the models know nothing of.
type protocolError struct{ models.Problem }

func (e *protocolError) Error() string { return e.Title + ": " + e.Detail }

func methodNotAllowed(method, allow string) error {
	return &protocolError{models.Problem{Type: "/problems/method_not_allowed", Title: "This address does not do that",
		Status: http.StatusMethodNotAllowed, Detail: method + " is not possible here; possible: " + allow}}
}

func notAcceptable(possible string) error {
	return &protocolError{models.Problem{Type: "/problems/not_acceptable", Title: "There is no such form of this",
		Status: http.StatusNotAcceptable, Detail: "possible: " + possible}}
}

func wrongMediaType(found string) error { return notTheForm(found, "application/json in UTF-8") }

func notTheForm(found, possible string) error {
	return &protocolError{models.Problem{Type: "/problems/unsupported_media_type", Title: "The body is in the wrong form",
		Status: http.StatusUnsupportedMediaType, Detail: "found " + found + "; send " + possible}}
}

func notReady() error {
	return &protocolError{models.Problem{Type: "/problems/not_ready", Title: "The service is not ready",
		Status: http.StatusServiceUnavailable, Detail: "the database does not answer; try again in a moment"}}
}

// fail answers err as a problem document. What is our fault is logged and not told.
func (s *Server) fail(c *gin.Context, err error) {
	if c.Writer.Written() {
		s.Log.ErrorContext(c.Request.Context(), "failed after the answer had begun", "route", c.FullPath(), "error", err)
		c.Abort()
		return
	}
	p := problemOf(err)
	if p.Status >= http.StatusInternalServerError && c.Request.Context().Err() == nil {
		s.Log.ErrorContext(c.Request.Context(), "request failed", "method", c.Request.Method, "route", c.FullPath(), "error", err,
			"request_id", c.Writer.Header().Get(requestIDHeader))
	}
	if p.Status == http.StatusUnauthorized {
		c.Header("WWW-Authenticate", `Bearer realm="hotday"`)
	}
	c.Header("Cache-Control", "no-store")
	body, _ := json.Marshal(p) // strings and numbers only: cannot fail
	c.Abort()
	c.Data(p.Status, problemType, body)
}

func problemOf(err error) models.Problem {
	var pe *protocolError
	if errors.As(err, &pe) {
		return pe.Problem
	}
	p := models.ProblemOf(err)
	p.Status = models.CodeOf(err).Status()
	if errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled) {
		p = models.Problem{Type: "/problems/cancelled", Title: "The request was broken off", Status: http.StatusServiceUnavailable,
			Detail: "the caller went away, or it took too long; nothing was written"}
	}
	return p
}

// recovered answers a panic as our fault and logs where it happened, so that one bad request does not end the service.
func (s *Server) recovered(c *gin.Context) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if err, ok := v.(error); ok && errors.Is(err, http.ErrAbortHandler) {
			panic(v) // net/http's own way to break a connection off
		}
		s.Log.ErrorContext(c.Request.Context(), "panic", "method", c.Request.Method, "route", c.FullPath(), "panic", v, "stack", string(debug.Stack()))
		s.fail(c, models.Errorf(models.CodeInternal, "panic"))
	}()
	c.Next()
}
