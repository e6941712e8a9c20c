package api

import (
	"context"
	"errors"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// sandboxHeader says in responses to a sandbox token that nothing was stored.
const sandboxHeader = "Hotday-Sandbox"

type sandboxed struct{}

// enterSandbox marks a request of a sandbox token: its changes are checked and answered, but not stored.
func enterSandbox(c *gin.Context) {
	c.Header(sandboxHeader, "not stored")
	c.Request = c.Request.WithContext(context.WithValue(c.Request.Context(), sandboxed{}, true))
}

func inSandbox(ctx context.Context) bool { return ctx.Value(sandboxed{}) != nil }

// sandboxStore rolls back the transactions of sandboxed requests once they have succeeded. All changes of shops' data and of access
// are made in transactions.
type sandboxStore struct{ models.Store }

var errSandboxed = errors.New("a sandboxed request is rolled back")

func (s sandboxStore) Within(ctx context.Context, fn func(models.Store) error) error {
	if !inSandbox(ctx) {
		return s.Store.Within(ctx, fn)
	}
	err := s.Store.Within(ctx, func(tx models.Store) error {
		if err := fn(tx); err != nil {
			return err
		}
		return errSandboxed
	})
	if errors.Is(err, errSandboxed) {
		return nil
	}
	return err
}

// endStreams closes the live streams of a token or session, whose rights have changed.
func (s *Server) endStreams(ctx context.Context, id string) {
	if !inSandbox(ctx) {
		s.streams.close(id)
	}
}
