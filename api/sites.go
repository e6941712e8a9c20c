package api

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// longestSearch bounds a search, in bytes.
const longestSearch = 200

// getSites lists the sites within the token's reach.
func (s *Server) getSites(c *gin.Context) error {
	q := params(c, "search", "limit", "cursor")
	p := q.page()
	token, _ := callerToken(c)
	f := models.SiteFilter{Sites: token.Sites(), Search: q.text("search")}
	if len(f.Search) > longestSearch {
		q.invalid("search", "at most 200 bytes", "the text is too long")
	}
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.SiteList(c.Request.Context(), f, p)
	if err != nil {
		return err
	}
	return writeJSON(c, 200, rows)
}
