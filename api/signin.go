package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// sessionBody signs in with an access key, or with a name and a password.
type sessionBody struct {
	Key      string `json:"key" opt:"true" validate:"max=500"`
	SignIn   string `json:"sign_in" opt:"true" validate:"max=1000"`
	Password string `json:"password" opt:"true" validate:"max=2000"`
}

// sessionAnswer is who is signed in. CSRFToken goes into the header X-CSRF-Token of every change made in the session; it is
// empty for a bearer token, which needs none.
type sessionAnswer struct {
	Token     models.Token `json:"token"`
	CSRFToken string       `json:"csrf_token"`
}

// postSession signs a browser in, for pages whose scripts do it; the form of the pages is /sign-in.
func (s *Server) postSession(c *gin.Context) error {
	var body sessionBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	var err error
	switch byKey := body.Key != ""; {
	case byKey && (body.SignIn != "" || body.Password != ""), !byKey && body.SignIn == "":
		return models.Invalid("/key", "an access key alone, or sign_in with password", "it is not said by which of the two to sign in")
	case byKey:
		err = s.signIn(c, body.Key)
	default:
		err = s.signInPerson(c, body.SignIn, body.Password)
	}
	if err != nil {
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
