package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// note is an entry of the activity log without its author.
type note struct{ action, subject string }

// audit adds an entry to the activity log, in the transaction of the change.
func (s *Server) audit(c *gin.Context, tx models.Store, site, action, subject string) error {
	return tx.AddAudit(c.Request.Context(), s.entry(c, site, note{action, subject}))
}

// auditDaily is audit for what programs send every few minutes: one entry per caller, subject and UTC day.
func (s *Server) auditDaily(c *gin.Context, tx models.Store, site, action, subject string) error {
	return tx.AddAuditOnce(c.Request.Context(), s.entry(c, site, note{action, subject}), s.Now().UTC().Truncate(24*time.Hour))
}

func (s *Server) entry(c *gin.Context, site string, n note) models.AuditEntry {
	caller, _ := callerToken(c)
	return models.AuditEntry{At: s.Now(), By: caller.Name, ByToken: caller.ID, Site: site, Action: n.action, Subject: models.OneLine(n.subject, maxSubject)}
}

// maxSubject is the longest subject of an entry in characters.
const maxSubject = 200

// auditFailedSignIn records a failed sign-in, at most one an hour for a name and address, so that a guesser cannot fill the log. Names
// that nobody has are not recorded, since people type passwords there. A failure to record is only logged.
func (s *Server) auditFailedSignIn(c *gin.Context, name string) {
	ctx, site, who := c.Request.Context(), "", "unknown"
	if p, _, err := s.Store.PasswordOf(ctx, name); err == nil {
		site, who = p.Site, p.SignIn
	}
	e := models.AuditEntry{At: s.Now(), Site: site, Action: models.AuditSignInFailed, Subject: who + " (" + s.address(c) + ")"}
	if err := s.Store.AddAuditOnce(ctx, e, s.Now().Add(-time.Hour)); err != nil && ctx.Err() == nil {
		s.Log.WarnContext(ctx, "could not record a failed sign-in", "error", err)
	}
}

// listed joins the first names of a list for the subject of an entry.
func listed[T any](list []T, name func(T) string) string {
	const most = 5
	var out []string
	for _, x := range list {
		if n := name(x); !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	if len(out) > most {
		out = append(out[:most], fmt.Sprintf("+%d", len(out)-most))
	}
	return strings.Join(out, ", ")
}

// getAudit lists the activity log, newest first: the token's site, or all sites for an organisation-wide token.
func (s *Server) getAudit(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	rows, err := s.Store.Audit(c.Request.Context(), caller.Sites(), p)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, rows)
}
