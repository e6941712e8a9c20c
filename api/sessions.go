package api

import (
	"slices"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// reachesSession reports whether the caller may see and end a session: its own ones, and a manager's within reach.
func reachesSession(caller models.Token, x models.Session) bool {
	return x.Token == caller.ID || (caller.Has(models.ScopeManage) && caller.Reaches(x.Site, x.Groups))
}

// sessionsOf lists the sessions that the caller may end.
func (s *Server) sessionsOf(c *gin.Context) ([]models.Session, error) {
	all, err := s.Sessions.Sessions(c.Request.Context())
	caller, _ := callerToken(c)
	all = slices.DeleteFunc(all, func(x models.Session) bool { return !reachesSession(caller, x) })
	for i := range all {
		all[i].Current = all[i].ID == c.GetString(sessionIDKey)
	}
	return all, err
}

func (s *Server) getSessions(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	all, err := s.sessionsOf(c)
	if err != nil {
		return err
	}
	return writePage(c, all, p)
}

func (s *Server) deleteSessionByID(c *gin.Context) error {
	if err := s.endSession(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) endSession(c *gin.Context, id string) error {
	ctx := c.Request.Context()
	all, err := s.sessionsOf(c)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(all, func(x models.Session) bool { return x.ID == id })
	if at < 0 {
		return models.Errorf(models.CodeNotFound, "there is no session %q", id)
	}
	if inSandbox(ctx) {
		return nil
	}
	if err := s.Sessions.EndSession(ctx, id); err != nil {
		return err
	}
	s.endStreams(ctx, id)
	return s.audit(c, s.Store, all[at].Site, models.AuditEndSession, all[at].Name)
}
