package api

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

func (s *Server) getSetup(c *gin.Context) error {
	if err := params(c).err(); err != nil {
		return err
	}
	setup, etag, err := s.Store.Setup(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	if notModified(c, etag) {
		return nil
	}
	return writeJSON(c, http.StatusOK, setup)
}

// putSetup creates a site or replaces its set-up. Creating needs an organisation-wide token; replacing needs the current ETag.
func (s *Server) putSetup(c *gin.Context) error {
	var setup models.Setup
	if err := decode(c, &setup); err != nil {
		return err
	}
	if err := setup.Validate(); err != nil {
		return err
	}
	if code := c.Param("site"); setup.Site.Code != code {
		return models.Invalid("/site/code", code, "the path names site %q, the document %q", code, setup.Site.Code)
	}
	etag, created, err := s.storeSetup(c, c.Param("site"), requestPrecondition(c), func(models.Setup) (models.Setup, error) { return setup, nil })
	if err != nil {
		return err
	}
	c.Header("ETag", quoteETag(etag))
	if created {
		c.Header("Location", c.Request.URL.EscapedPath())
		return writeJSON(c, http.StatusCreated, setup)
	}
	return writeJSON(c, http.StatusOK, setup)
}

// saveSetup stores a validated set-up for a page. etag is the version it replaces, "" to create the site.
func (s *Server) saveSetup(c *gin.Context, setup models.Setup, etag string) error {
	if t, _ := callerToken(c); !reachesSite(t, setup.Site.Code) {
		return siteNotFound(setup.Site.Code)
	}
	match := func(stored string) (string, error) {
		if etag != stored {
			return "", models.Errorf(models.CodePrecondition, "the set-up has changed since you read it: read it again, then change it")
		}
		return stored, nil
	}
	_, _, err := s.storeSetup(c, setup.Site.Code, match, func(models.Setup) (models.Setup, error) { return setup, nil })
	return err
}

// requestPrecondition checks the request's If-Match and If-None-Match headers.
func requestPrecondition(c *gin.Context) func(stored string) (string, error) {
	return func(stored string) (string, error) { return precondition(c, stored) }
}

// storeSetup replaces a set-up in one transaction. match gets the stored ETag, "" if there is none, and returns the ETag to replace or
// an error; change gets the stored set-up, zero if there is none, and returns the new one; effects run if it differs.
func (s *Server) storeSetup(c *gin.Context, site string, match func(stored string) (string, error), change func(current models.Setup) (models.Setup, error),
	effects ...func(context.Context, models.Store) error) (etag string, created bool, err error) {
	ctx := c.Request.Context()
	err = s.Store.Within(ctx, func(tx models.Store) error {
		current, stored, err := tx.Setup(ctx, site)
		if err != nil && models.CodeOf(err) != models.CodeNotFound {
			return err
		}
		replaced, err := match(stored)
		if err != nil {
			return err
		}
		if stored == "" {
			if t, _ := callerToken(c); !t.May(models.ScopeManage, "") {
				return models.Errorf(models.CodeForbidden, "creating a site needs an organisation-wide token; this one is for %s", describeReach(t))
			}
			if !models.ValidSiteCode(site) {
				return models.Invalid("/site/code", "1 to 60 letters, digits, - and _, the first a letter or digit", "%q cannot be the code of a new site", site)
			}
			all, err := tx.Sites(ctx)
			if err := roomFor(s.Most.Sites, "sites", "", all, err, func(string) (string, bool) { return "", true }); err != nil {
				return err
			}
		}
		setup, err := change(current)
		if err != nil {
			return err
		}
		if w := setup.Site.Weather; setup.Site.ForecastSource() == models.WeatherURL && (current.Site.Weather == nil || current.Site.Weather.URL != w.URL) {
			if err := s.checkOutsideURL("/site/weather/url", w.URL); err != nil {
				return err
			}
		}
		if etag, created, err = tx.PutSetup(ctx, setup, replaced, s.Now()); err != nil || etag == stored {
			return err // no change, no event
		}
		for _, effect := range effects {
			if err := effect(ctx, tx); err != nil {
				return err
			}
		}
		if err := s.audit(c, tx, site, models.AuditSetUp, strings.Join(changedParts(&current, &setup), ", ")); err != nil {
			return err
		}
		if err := s.emit(ctx, tx, site, liveSetup, map[string]any{"etag": etag, "made": created}); err != nil {
			return err
		}
		return s.queueWatch(ctx, tx, site)
	})
	return etag, created, err
}

// precondition returns the ETag for the store to match: current if If-Match names it, "" if there is no document and no If-Match.
func precondition(c *gin.Context, current string) (string, error) {
	if none := c.GetHeader("If-None-Match"); none != "" && current != "" && (none == "*" || containsETag(none, current, true)) {
		return "", models.Errorf(models.CodePrecondition, "this site already has a set-up")
	}
	match := c.GetHeader("If-Match")
	switch {
	case match == "" && current == "":
		return "", nil
	case match == "":
		return "", models.Errorf(models.CodeNeedsMatch, "this site is already set up: send the ETag of the version you are changing as If-Match")
	case current == "":
		return "", models.Errorf(models.CodePrecondition, "there is no set-up to match yet")
	case match == "*" || containsETag(match, current, false):
		return current, nil
	}
	return "", models.Errorf(models.CodePrecondition, "the set-up has changed since you read it: read it again, then change it")
}

// containsETag reports whether a list of entity tags contains etag. Weak tags match only in a weak comparison (RFC 9110, 8.8.3.2).
func containsETag(list, etag string, weak bool) bool {
	for tag := range strings.SplitSeq(list, ",") {
		tag = strings.TrimSpace(tag)
		if weak {
			tag = strings.TrimPrefix(tag, "W/")
		}
		if tag == quoteETag(etag) || tag == etag {
			return true
		}
	}
	return false
}

func quoteETag(etag string) string { return `"` + etag + `"` }

// notModified sets the ETag, and responds 304 if the client already has that version.
func notModified(c *gin.Context, etag string) bool {
	c.Header("ETag", quoteETag(etag))
	c.Header("Cache-Control", "private, no-cache")
	none := c.GetHeader("If-None-Match")
	if none == "" || (none != "*" && !containsETag(none, etag, true)) {
		return false
	}
	c.Status(http.StatusNotModified)
	c.Writer.WriteHeaderNow()
	return true
}
