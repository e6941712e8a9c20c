package api

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// siteSummary is a site in a list.
type siteSummary struct {
	Code string `json:"code"`
	Name string `json:"name"`
}

// getSites lists the sites within the token's reach.
func (s *Server) getSites(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	ctx := c.Request.Context()
	token, _ := callerToken(c)
	rows := []siteSummary{}
	err := s.Store.Read(ctx, func(st models.Store) error {
		codes, err := st.Sites(ctx)
		if err != nil {
			return err
		}
		for _, code := range codes {
			if !token.Covers(code) {
				continue
			}
			setup, _, err := st.Setup(ctx, code)
			if err != nil {
				return err
			}
			rows = append(rows, siteSummary{code, setup.Site.Name})
		}
		return nil
	})
	if err != nil {
		return err
	}
	return writePage(c, rows, p)
}
