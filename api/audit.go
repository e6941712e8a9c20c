package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// audit adds an entry to the activity log, in the transaction of the change.
func (s *Server) audit(c *gin.Context, tx models.Store, site, action, subject string) error {
	caller, _ := callerToken(c)
	return tx.AddAudit(c.Request.Context(), models.AuditEntry{At: s.Now(), By: caller.Name, ByToken: caller.ID, Site: site, Action: action, Subject: subject})
}

// getAudit lists the activity log, newest first: the token's site, or all sites for an organisation-wide token.
func (s *Server) getAudit(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	rows, err := s.Store.Audit(c.Request.Context(), caller.Site, p)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, rows)
}
