package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// note keeps who changed what, in the transaction of the change.
func (s *Server) note(c *gin.Context, tx models.Store, site, action, subject string) error {
	caller, _ := current(c)
	return tx.AddAudit(c.Request.Context(), models.AuditEntry{At: s.Now(), By: caller.Name, ByToken: caller.ID, Site: site, Action: action, Subject: subject})
}

// getAudit answers who changed what, newest first: of the token's site, or of all where it is the organisation's.
func (s *Server) getAudit(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	caller, _ := current(c)
	rows, err := s.Store.Audit(c.Request.Context(), caller.Site, p)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, rows)
}
