package api

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// groupBody is the body of PUT groups, which replaces the group.
type groupBody struct {
	Name  string   `json:"name" validate:"min=1,max=100,name"`
	Sites []string `json:"sites" opt:"false" validate:"max=10000,dive,min=1,max=60"`
}

// getGroups lists all groups, or those that the caller's token names.
func (s *Server) getGroups(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.Groups(c.Request.Context(), groupsOf(c), p)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, rows)
}

// groupsOf returns the groups that the caller may know of; nil: all.
func groupsOf(c *gin.Context) []string {
	caller, _ := callerToken(c)
	if caller.Everywhere() {
		return nil
	}
	return append([]string{}, caller.Groups...)
}

func (s *Server) getGroup(c *gin.Context) error {
	code := c.Param("group")
	g, err := s.Store.Group(c.Request.Context(), code)
	if among := groupsOf(c); err == nil && among != nil && !slices.Contains(among, code) {
		err = models.Errorf(models.CodeNotFound, "there is no group %q", code)
	}
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, g)
}

func (s *Server) putGroup(c *gin.Context) error {
	if err := organisationOnly(c); err != nil {
		return err
	}
	var body groupBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	g, created, err := s.saveGroup(c, models.Group{Code: c.Param("group"), Name: body.Name, Sites: body.Sites})
	if err != nil {
		return err
	}
	if created {
		c.Header("Location", c.Request.URL.EscapedPath())
		return writeJSON(c, http.StatusCreated, g)
	}
	return writeJSON(c, http.StatusOK, g)
}

// saveGroup stores a group; pages use it too.
func (s *Server) saveGroup(c *gin.Context, g models.Group) (stored models.Group, created bool, err error) {
	ctx := c.Request.Context()
	if err := organisationOnly(c); err != nil {
		return stored, false, err
	}
	if err := checkName(g.Name, 100); err != nil {
		return stored, false, err
	}
	if len(g.Sites) > models.MaxGroupSites {
		return stored, false, models.Invalid("/sites", "at most "+strconv.Itoa(models.MaxGroupSites)+" sites", "there are %d", len(g.Sites))
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if _, err := tx.Group(ctx, g.Code); models.CodeOf(err) == models.CodeNotFound {
			if !models.ValidGroupCode(g.Code) {
				return models.Invalid("/group", "1 to 60 letters, digits, - and _, the first a letter or digit", "%q cannot be the code of a group", g.Code)
			}
			all, err := tx.Groups(ctx, nil, models.Page{Limit: models.MaxLimit})
			if err := roomFor(s.Most.Groups, "groups", "", all.Rows, err, func(models.GroupHead) (string, bool) { return "", true }); err != nil {
				return err
			}
		} else if err != nil {
			return err
		}
		if created, err = tx.PutGroup(ctx, g); err != nil {
			return err
		}
		if stored, err = tx.Group(ctx, g.Code); err != nil {
			return err
		}
		return s.audit(c, tx, "", models.AuditChangeGroup, g.Code+" ("+strconv.Itoa(len(stored.Sites))+")")
	})
	if err == nil {
		err = s.endGroupStreams(c, g.Code)
	}
	return stored, created, err
}

func (s *Server) deleteGroup(c *gin.Context) error {
	if err := s.dropGroup(c, c.Param("group")); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) dropGroup(c *gin.Context, code string) error {
	ctx := c.Request.Context()
	if err := organisationOnly(c); err != nil {
		return err
	}
	return s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.DropGroup(ctx, code); err != nil {
			return err
		}
		return s.audit(c, tx, "", models.AuditDropGroup, code)
	})
}

// endGroupStreams closes the live streams of those who name a group; they reconnect to what they still reach.
func (s *Server) endGroupStreams(c *gin.Context, code string) error {
	ctx := c.Request.Context()
	all, err := s.Store.Tokens(ctx)
	for _, t := range all {
		if t.RevokedAt == nil && slices.Contains(t.Groups, code) {
			s.endStreams(ctx, t.ID)
		}
	}
	return err
}

// organisationOnly lets only those through who manage the whole organisation.
func organisationOnly(c *gin.Context) error {
	if caller, _ := callerToken(c); !caller.Everywhere() {
		return models.Errorf(models.CodeForbidden, "only somebody who manages the whole organisation can change groups; this token is for %s", describeReach(caller))
	}
	return nil
}
