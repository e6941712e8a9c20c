package api

import (
	"errors"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// setupPart is a part of the set-up with its own path. It shares the ETag of the whole document.
type setupPart struct {
	name string
	of   func(*models.Setup) any         // pointer to the part
	set  func(whole, part *models.Setup) // copies the part into whole
}

var setupParts = []setupPart{
	partOf("site", func(s *models.Setup) *models.Site { return &s.Site }),
	partOf("coffees", func(s *models.Setup) *[]models.Coffee { return &s.Coffees }),
	partOf("beverages", func(s *models.Setup) *[]models.Beverage { return &s.Beverages }),
	partOf("drinks", func(s *models.Setup) *[]models.Drink { return &s.Drinks }),
	partOf("brewers", func(s *models.Setup) *[]models.Brewer { return &s.Brewers }),
	partOf("ice", func(s *models.Setup) *models.Ice { return &s.Ice }),
	partOf("water", func(s *models.Setup) *models.Water { return &s.Water }),
	partOf("costs", func(s *models.Setup) *models.Costs { return &s.Costs }),
	partOf("service_level_pct", func(s *models.Setup) **float64 { return &s.ServiceLevelPct }),
}

func partOf[T any](name string, of func(*models.Setup) *T) setupPart {
	return setupPart{name: name, of: func(s *models.Setup) any { return of(s) }, set: func(whole, part *models.Setup) { *of(whole) = *of(part) }}
}

func (s *Server) getSetupPart(p setupPart) func(*gin.Context) error {
	return func(c *gin.Context) error {
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
		return writeJSON(c, http.StatusOK, p.of(&setup))
	}
}

func (s *Server) putSetupPart(p setupPart) func(*gin.Context) error {
	return func(c *gin.Context) error {
		data, err := readJSON(c)
		if err != nil {
			return err
		}
		var sent, after models.Setup
		if err := models.DecodeStrict(data, p.of(&sent)); err != nil {
			return err
		}
		etag, _, err := s.storeSetup(c, c.Param("site"), requestPrecondition(c), func(now models.Setup) (models.Setup, error) {
			if now.Site.Code == "" {
				return now, siteNotFound(c.Param("site"))
			}
			after = now
			p.set(&after, &sent)
			if err := after.Validate(); err != nil {
				return now, relativePointers(err, p.name)
			}
			if after.Site.Code != now.Site.Code {
				return now, models.Invalid("/code", now.Site.Code, "the code of a site cannot change")
			}
			return after, nil
		})
		if err != nil {
			return err
		}
		c.Header("ETag", quoteETag(etag))
		return writeJSON(c, http.StatusOK, p.of(&after))
	}
}

// relativePointers makes the pointers of errors in the whole set-up relative to the part that was sent. An error elsewhere, such as a
// drink that uses a beverage the part no longer has, gets the empty pointer.
func relativePointers(err error, part string) error {
	var e *models.Error
	if !errors.As(err, &e) {
		return err
	}
	out := &models.Error{Code: e.Code, Message: e.Message}
	for _, f := range e.Fields {
		rest, inside := strings.CutPrefix(f.Pointer, "/"+part)
		if inside && (rest == "" || rest[0] == '/') {
			f.Pointer = rest
		} else {
			f.Detail = "this makes " + f.Pointer + " of the set-up invalid: " + f.Detail
			f.Pointer = ""
		}
		out.Fields = append(out.Fields, f)
	}
	return out
}

// changedParts returns the names of the parts that differ.
func changedParts(before, after *models.Setup) (names []string) {
	for _, p := range setupParts {
		if indented(p.of(before)) != indented(p.of(after)) {
			names = append(names, p.name)
		}
	}
	return names
}
