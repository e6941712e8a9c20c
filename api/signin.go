package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type sessionBody struct {
	Key string `json:"key" validate:"min=1,max=500"`
}

// sessionAnswer is who is signed in. CSRFToken goes into the header X-CSRF-Token of every change made in the session; it is
// empty for a bearer token, which needs none.
type sessionAnswer struct {
	Token     models.Token `json:"token"`
	CSRFToken string       `json:"csrf_token"`
}

// postSession signs a browser in with an access key, for pages whose scripts do it; the form of the pages is /sign-in.
func (s *Server) postSession(c *gin.Context) error {
	var body sessionBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	if err := s.signIn(c, body.Key); err != nil {
		return err
	}
	return s.answerSession(c, http.StatusCreated)
}

func (s *Server) getSession(c *gin.Context) error { return s.answerSession(c, http.StatusOK) }

func (s *Server) answerSession(c *gin.Context, status int) error {
	t, _ := current(c)
	return answer(c, status, sessionAnswer{Token: t, CSRFToken: c.GetString(csrfKey)})
}

func (s *Server) deleteSession(c *gin.Context) error {
	if err := s.signOut(c); err != nil {
		return err
	}
	return noContent(c)
}

// siteHead is a site in a list.
type siteHead struct {
	Code string `json:"code"`
	Name string `json:"name"`
}

// getSites lists the sites that the token reaches.
func (s *Server) getSites(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	ctx := c.Request.Context()
	token, _ := current(c)
	rows := []siteHead{}
	err := s.Store.Read(ctx, func(st models.Store) error {
		codes, err := st.Sites(ctx)
		if err != nil {
			return err
		}
		for _, code := range codes {
			if token.Site != "" && token.Site != code {
				continue
			}
			setup, _, err := st.Setup(ctx, code)
			if err != nil {
				return err
			}
			rows = append(rows, siteHead{code, setup.Site.Name})
		}
		return nil
	})
	if err != nil {
		return err
	}
	return answerPart(c, rows, p)
}
