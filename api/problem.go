package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

const problemType = "application/problem+json"

// problemKey is the gin context's key of the problem that a request was answered with, for the log.
const problemKey = "hotday.problem"

// protocolError is an HTTP-level error, for which models has no code.
type protocolError struct{ models.Problem }

func (e *protocolError) Error() string { return e.Title + ": " + e.Detail }

func methodNotAllowed(method, allow string) error {
	return &protocolError{models.Problem{Type: "/problems/method_not_allowed", Title: "Method not allowed",
		Status: http.StatusMethodNotAllowed, Detail: method + " is not supported here; supported: " + allow}}
}

func notAcceptable(available string) error {
	return &protocolError{models.Problem{Type: "/problems/not_acceptable", Title: "Not acceptable",
		Status: http.StatusNotAcceptable, Detail: "available: " + available}}
}

func notJSON(found string) error { return unsupportedMediaType(found, "application/json in UTF-8") }

func unsupportedMediaType(found, accepted string) error {
	return &protocolError{models.Problem{Type: "/problems/unsupported_media_type", Title: "Unsupported media type",
		Status: http.StatusUnsupportedMediaType, Detail: "got " + found + "; send " + accepted}}
}

func notReady(detail string) error {
	return &protocolError{models.Problem{Type: "/problems/not_ready", Title: "The service is not ready", Status: http.StatusServiceUnavailable, Detail: detail}}
}

const (
	noAnswer = "the database is not responding or the service is shutting down; try again shortly"
	ended    = "the service is shutting down; nothing was written; try again shortly" // of a request that was cancelled since the service ends
)

// retryClosing is the Retry-After of such a request: the time of a restart.
const retryClosing = 5 * time.Second

// writeProblem writes err as a problem document. Internal errors are logged and their text is withheld.
func (s *Server) writeProblem(c *gin.Context, err error) {
	if c.Writer.Written() {
		s.Log.ErrorContext(c.Request.Context(), "request failed after the response had started", "route", c.FullPath(), "error", err)
		c.Abort()
		return
	}
	if errors.Is(err, context.Canceled) && errors.Is(context.Cause(c.Request.Context()), errClosing) {
		setRetryAfter(c, retryClosing)
		err = notReady(ended)
	}
	p := problemOf(err)
	if models.CodeOf(err) == models.CodeStorage {
		setRetryAfter(c, models.StorageRetry)
	}
	if p.Status >= http.StatusInternalServerError && c.Request.Context().Err() == nil {
		s.Log.ErrorContext(c.Request.Context(), "request failed", "method", c.Request.Method, "route", c.FullPath(), "error", err,
			"request_id", c.Writer.Header().Get(requestIDHeader))
	}
	if p.Status == http.StatusUnauthorized {
		c.Header("WWW-Authenticate", `Bearer realm="hotday"`)
	}
	c.Set(problemKey, strings.TrimPrefix(p.Type, "/problems/"))
	c.Header("Cache-Control", "no-store")
	c.Writer.Header().Del("ETag")
	body, _ := json.Marshal(p) // only strings and numbers: cannot fail
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
		p = models.Problem{Type: "/problems/cancelled", Title: "The request was cancelled", Status: http.StatusServiceUnavailable,
			Detail: "the client disconnected or the request took too long; nothing was written"}
	}
	return p
}

// recoverPanic logs a panic with its stack and responds 500, so that one request cannot end the service.
func (s *Server) recoverPanic(c *gin.Context) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if err, ok := v.(error); ok && errors.Is(err, http.ErrAbortHandler) {
			panic(v) // net/http's way to abort a response
		}
		s.Log.ErrorContext(c.Request.Context(), "panic", "method", c.Request.Method, "route", c.FullPath(), "panic", v, "stack", string(debug.Stack()))
		s.writeProblem(c, models.Errorf(models.CodeInternal, "panic"))
	}()
	c.Next()
}
