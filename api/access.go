package api

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// access implements web.Access with the same rules as the REST resources.
type access struct{ s *Server }

func (a access) SignInPerson(c *gin.Context, name, password string) error {
	return a.s.signInWithPassword(c, name, password)
}

func (a access) PairScreen(c *gin.Context, code string, screen models.Screen) (models.Screen, error) {
	return a.s.pairScreen(c, code, screen)
}
func (a access) EndScreen(c *gin.Context, id string) error { return a.s.revokeScreen(c, id) }

func (a access) AddPerson(c *gin.Context, p models.Person) (models.Person, string, error) {
	return a.s.addPerson(c, p)
}
func (a access) ChangePerson(c *gin.Context, p models.Person) error {
	_, err := a.s.changePerson(c, p)
	return err
}

func (a access) ChangeScreen(c *gin.Context, screen models.Screen) error {
	_, err := a.s.changeScreen(c, screen)
	return err
}
func (a access) RemovePerson(c *gin.Context, id string) error { return a.s.removePerson(c, id) }
func (a access) NewLink(c *gin.Context, id string) (string, error) {
	return a.s.newPasswordLink(c, id)
}

func (a access) LinkedPerson(c *gin.Context, code string) (models.Person, error) {
	return a.s.personByLink(c, code)
}

func (a access) Welcome(c *gin.Context, code, password string) (models.Person, error) {
	return a.s.choosePassword(c, code, password)
}

func (a access) ChangePassword(c *gin.Context, old, password string) error {
	return a.s.changePassword(c, old, password)
}

func (a access) MakeToken(c *gin.Context, t models.Token) (models.Token, string, error) {
	return a.s.createToken(c, t)
}
func (a access) RevokeToken(c *gin.Context, id string) error { return a.s.revokeToken(c, id) }

func (a access) Sessions(c *gin.Context) ([]models.Session, error) { return a.s.sessionsOf(c) }
func (a access) EndSession(c *gin.Context, id string) error        { return a.s.endSession(c, id) }

func (a access) MakeCalendarKey(c *gin.Context, site string) (path string, err error) {
	k, err := a.s.makeCalendarKey(c, site)
	return k.Path, err
}
func (a access) EndCalendarKey(c *gin.Context, site string) error {
	return a.s.removeCalendarKey(c, site)
}

func (a access) AddWebhook(c *gin.Context, w models.Webhook) (models.Webhook, string, error) {
	return a.s.addWebhook(c, w)
}
func (a access) RemoveWebhook(c *gin.Context, id string) error { return a.s.removeWebhook(c, id) }
func (a access) Replay(c *gin.Context, webhook, delivery string) error {
	_, err := a.s.replayDelivery(c, webhook, delivery)
	return err
}
