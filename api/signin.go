package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// sessionBody signs in with an access key or with a name and password.
type sessionBody struct {
	Key      string `json:"key" opt:"true" validate:"max=500"` // an access key, in place of sign_in and password
	SignIn   string `json:"sign_in" opt:"true" validate:"max=1000"`
	Password string `json:"password" opt:"true" validate:"max=2000"`
}

// sessionResponse describes the caller. CSRFToken belongs in the X-CSRF-Token header of every change made in the session; it is empty
// for a bearer token.
type sessionResponse struct {
	Token     models.Token `json:"token"`
	CSRFToken string       `json:"csrf_token"`
}

// postSession signs a browser in from a script; the pages' form posts to /sign-in.
func (s *Server) postSession(c *gin.Context) error {
	var body sessionBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	var err error
	switch byKey := body.Key != ""; {
	case byKey && (body.SignIn != "" || body.Password != ""), !byKey && body.SignIn == "":
		return models.Invalid("/key", "an access key alone, or sign_in with password", "send either a key or sign_in with password")
	case byKey:
		err = s.signInWithKey(c, body.Key)
	default:
		err = s.signInWithPassword(c, body.SignIn, body.Password)
	}
	if err != nil {
		return err
	}
	return s.writeSession(c, http.StatusCreated)
}

func (s *Server) getSession(c *gin.Context) error { return s.writeSession(c, http.StatusOK) }

func (s *Server) writeSession(c *gin.Context, status int) error {
	t, _ := callerToken(c)
	return writeJSON(c, status, sessionResponse{Token: t, CSRFToken: c.GetString(csrfKey)})
}

func (s *Server) deleteOwnSession(c *gin.Context) error {
	if err := s.signOut(c); err != nil {
		return err
	}
	return noContent(c)
}
