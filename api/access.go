package api

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// access is what the pages may do about who gets in, by the same rules as the programming interface.
type access struct{ s *Server }

func (a access) SignInPerson(c *gin.Context, name, password string) error {
	return a.s.signInPerson(c, name, password)
}

func (a access) PairScreen(c *gin.Context, code string, screen models.Screen) (models.Screen, error) {
	return a.s.pairScreen(c, code, screen)
}
func (a access) EndScreen(c *gin.Context, id string) error { return a.s.endScreen(c, id) }

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
	return a.s.newLink(c, id)
}

func (a access) LinkedPerson(c *gin.Context, code string) (models.Person, error) {
	return a.s.linkedPerson(c, code)
}

func (a access) Welcome(c *gin.Context, code, password string) (models.Person, error) {
	return a.s.welcome(c, code, password)
}

func (a access) ChangePassword(c *gin.Context, old, password string) error {
	return a.s.changePassword(c, old, password)
}

func (a access) MakeToken(c *gin.Context, t models.Token) (models.Token, string, error) {
	return a.s.makeToken(c, t)
}
func (a access) RevokeToken(c *gin.Context, id string) error { return a.s.revokeToken(c, id) }

func (a access) Sessions(c *gin.Context) ([]models.Session, error) { return a.s.sessionsOf(c) }
func (a access) EndSession(c *gin.Context, id string) error        { return a.s.endSession(c, id) }

func (a access) MakeCalendarKey(c *gin.Context, site string) (path string, err error) {
	k, err := a.s.makeCalendarKey(c, site)
	return k.Path, err
}
func (a access) EndCalendarKey(c *gin.Context, site string) error { return a.s.endCalendarKey(c, site) }

func (a access) AddWebhook(c *gin.Context, w models.Webhook) (models.Webhook, string, error) {
	return a.s.addWebhook(c, w)
}
func (a access) RemoveWebhook(c *gin.Context, id string) error { return a.s.removeWebhook(c, id) }
func (a access) Replay(c *gin.Context, webhook, delivery string) error {
	_, err := a.s.replayDelivery(c, webhook, delivery)
	return err
}
