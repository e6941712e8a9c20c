package api

import (
	"io"
	"net/http"
	"os"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// getExport sends everything that a site has stored as one archive. It is made in a temporary file first, so that a slow reader holds no
// snapshot of the database open and a failure is not half a download.
func (s *Server) getExport(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	f, err := os.CreateTemp("", "hotday-export-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	defer f.Close()
	if err := s.Store.ExportSite(ctx, site, f); err != nil {
		return err
	}
	size, err := f.Seek(0, io.SeekCurrent)
	if err != nil {
		return err
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return err
	}
	if c.Request.Method == http.MethodGet {
		if err := s.Store.Within(ctx, func(tx models.Store) error { return s.audit(c, tx, site, models.AuditExportSite, site) }); err != nil {
			return err
		}
	}
	name := "hotday-" + site + "-" + s.Now().UTC().Format(time.DateOnly) + ".zip"
	c.DataFromReader(http.StatusOK, size, "application/zip", f, map[string]string{
		"Content-Disposition": fileNamed("attachment", name)})
	return nil
}

// deleteSite deletes a site for good.
func (s *Server) deleteSite(c *gin.Context) error {
	q := params(c, "confirm")
	if err := q.err(); err != nil {
		return err
	}
	if err := s.removeSite(c, c.Param("site"), q.text("confirm")); err != nil {
		return err
	}
	return noContent(c)
}

// removeSite deletes a site that the caller manages; pages use it too. Only those who manage all sites may, and confirm is its code once more.
func (s *Server) removeSite(c *gin.Context, site, confirm string) error {
	ctx := c.Request.Context()
	if caller, _ := callerToken(c); !caller.Everywhere() {
		return models.Errorf(models.CodeForbidden, "only somebody who manages all sites can delete one")
	}
	if confirm != site {
		return models.Invalid("/confirm", "the code of the site, "+site, "%q is not the code of the site", confirm)
	}
	var ended []string
	err := s.Store.Within(ctx, func(tx models.Store) error {
		tokens, err := tx.Tokens(ctx)
		if err != nil {
			return err
		}
		for _, t := range tokens {
			if t.Site == site || len(t.Groups) > 0 { // streams of groups reconnect
				ended = append(ended, t.ID)
			}
		}
		if err := tx.DeleteSite(ctx, site); err != nil {
			return err
		}
		return s.audit(c, tx, "", models.AuditDeleteSite, site)
	})
	if err != nil {
		return err
	}
	for _, id := range ended {
		s.endStreams(ctx, id)
	}
	return nil
}
