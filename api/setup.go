package api

import (
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
	return answer(c, http.StatusOK, setup)
}

// putSetup makes a site, or changes the set-up of one. Making one needs a token of the organisation and no precondition;
// changing one needs the ETag that was read.
func (s *Server) putSetup(c *gin.Context) error {
	var setup models.Setup
	if err := decode(c, &setup); err != nil {
		return err
	}
	if err := setup.Validate(); err != nil {
		return err
	}
	if code := c.Param("site"); setup.Site.Code != code {
		return models.Invalid("/site/code", code, "the address names site %q, the document %q", code, setup.Site.Code)
	}
	etag, made, err := s.storeSetup(c, c.Param("site"), ofRequest(c), func(models.Setup) (models.Setup, error) { return setup, nil })
	if err != nil {
		return err
	}
	c.Header("ETag", quoted(etag))
	if made {
		c.Header("Location", c.Request.URL.EscapedPath())
		return answer(c, http.StatusCreated, setup)
	}
	return answer(c, http.StatusOK, setup)
}

// saveSetup stores what a page has checked, in place of the version that etag names; "": there is none yet.
func (s *Server) saveSetup(c *gin.Context, setup models.Setup, etag string) error {
	match := func(stored string) (string, error) {
		if etag != stored {
			return "", models.Errorf(models.CodePrecondition, "the set-up has changed since you read it: read it again, then change it")
		}
		return stored, nil
	}
	_, _, err := s.storeSetup(c, setup.Site.Code, match, func(models.Setup) (models.Setup, error) { return setup, nil })
	return err
}

// ofRequest is the precondition that the request's headers state.
func ofRequest(c *gin.Context) func(stored string) (string, error) {
	return func(stored string) (string, error) { return precondition(c, stored) }
}

// storeSetup asks match which version may be changed, of the one that is stored ("": none), and stores what change makes of it
// (of nothing, where there is no site yet), all in one transaction.
func (s *Server) storeSetup(c *gin.Context, site string, match func(stored string) (string, error), change func(now models.Setup) (models.Setup, error)) (etag string, made bool, err error) {
	ctx := c.Request.Context()
	err = s.Store.Within(ctx, func(tx models.Store) error {
		now, stored, err := tx.Setup(ctx, site)
		if err != nil && models.CodeOf(err) != models.CodeNotFound {
			return err
		}
		replaced, err := match(stored)
		if err != nil {
			return err
		}
		if stored == "" {
			if t, _ := current(c); !t.May(models.ScopeManage, "") {
				return models.Errorf(models.CodeForbidden, "making a site needs a token of the organisation; this one is for site %q", t.Site)
			}
		}
		setup, err := change(now)
		if err != nil {
			return err
		}
		if etag, made, err = tx.PutSetup(ctx, setup, replaced, s.Now()); err != nil || etag == stored {
			return err // nothing changed: nothing to tell
		}
		if err := s.note(c, tx, site, models.DidSetUp, strings.Join(changedParts(&now, &setup), ", ")); err != nil {
			return err
		}
		if err := s.tell(ctx, tx, site, liveSetup, map[string]any{"etag": etag, "made": made}); err != nil {
			return err
		}
		return s.watch(ctx, tx, site)
	})
	return etag, made, err
}

// precondition returns the ETag that the store shall match: current where the request's If-Match names it, "" where there is no
// document yet and none was asked for.
func precondition(c *gin.Context, current string) (string, error) {
	if none := c.GetHeader("If-None-Match"); none != "" && current != "" && (none == "*" || names(none, current, true)) {
		return "", models.Errorf(models.CodePrecondition, "the set-up of this site is there already")
	}
	match := c.GetHeader("If-Match")
	switch {
	case match == "" && current == "":
		return "", nil
	case match == "":
		return "", models.Errorf(models.CodeNeedsMatch, "this site is set up already: send the ETag of the version that you change as If-Match")
	case current == "":
		return "", models.Errorf(models.CodePrecondition, "there is no set-up yet that could match")
	case match == "*" || names(match, current, false):
		return current, nil
	}
	return "", models.Errorf(models.CodePrecondition, "the set-up has changed since you read it: read it again, then change it")
}

// names reports whether a list of entity tags holds etag. Weak tags match only where weak comparison is asked for (RFC 9110).
func names(list, etag string, weak bool) bool {
	for tag := range strings.SplitSeq(list, ",") {
		tag = strings.TrimSpace(tag)
		if weak {
			tag = strings.TrimPrefix(tag, "W/")
		}
		if tag == quoted(etag) || tag == etag {
			return true
		}
	}
	return false
}

func quoted(etag string) string { return `"` + etag + `"` }

// notModified sends the ETag and answers 304 where the request has that version already.
func notModified(c *gin.Context, etag string) bool {
	c.Header("ETag", quoted(etag))
	c.Header("Cache-Control", "private, no-cache")
	none := c.GetHeader("If-None-Match")
	if none == "" || (none != "*" && !names(none, etag, true)) {
		return false
	}
	c.Status(http.StatusNotModified)
	c.Writer.WriteHeaderNow()
	return true
}
