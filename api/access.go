package api

import (
	"github.com/gin-gonic/gin"

	"hotday/models"
)

// access implements web.Access with the same rules as the REST resources.
type webAccess struct{ s *Server }

func (a webAccess) SignInWithPassword(c *gin.Context, name, password string) error {
	return a.s.signInWithPassword(c, name, password)
}

func (a webAccess) PairScreen(c *gin.Context, code string, screen models.Screen) (models.Screen, error) {
	return a.s.pairScreen(c, code, screen)
}
func (a webAccess) RevokeScreen(c *gin.Context, id string) error { return a.s.revokeScreen(c, id) }

func (a webAccess) AddPerson(c *gin.Context, p models.Person) (models.Person, string, error) {
	return a.s.addPerson(c, p)
}
func (a webAccess) ChangePerson(c *gin.Context, p models.Person) error {
	_, err := a.s.changePerson(c, p)
	return err
}

func (a webAccess) ChangeScreen(c *gin.Context, screen models.Screen) error {
	_, err := a.s.changeScreen(c, screen)
	return err
}
func (a webAccess) RemovePerson(c *gin.Context, id string) error { return a.s.removePerson(c, id) }
func (a webAccess) ErasePerson(c *gin.Context, id, confirm string) error {
	return a.s.erasePerson(c, id, confirm)
}

func (a webAccess) SaveGroup(c *gin.Context, g models.Group) error {
	_, _, err := a.s.saveGroup(c, g)
	return err
}
func (a webAccess) DropGroup(c *gin.Context, code string) error { return a.s.dropGroup(c, code) }

func (a webAccess) DeleteSite(c *gin.Context, site, confirm string) error {
	return a.s.removeSite(c, site, confirm)
}
func (a webAccess) NewPasswordLink(c *gin.Context, id string) (string, error) {
	return a.s.newPasswordLink(c, id)
}

func (a webAccess) PersonByLink(c *gin.Context, code string) (models.Person, error) {
	return a.s.personByLink(c, code)
}

func (a webAccess) ChoosePassword(c *gin.Context, code, password string) (models.Person, error) {
	return a.s.choosePassword(c, code, password)
}

func (a webAccess) ChangePassword(c *gin.Context, old, password string) error {
	return a.s.changePassword(c, old, password)
}

func (a webAccess) CreateToken(c *gin.Context, t models.Token) (models.Token, string, error) {
	return a.s.createToken(c, t)
}
func (a webAccess) RevokeToken(c *gin.Context, id string) error { return a.s.revokeToken(c, id) }

func (a webAccess) Sessions(c *gin.Context) ([]models.Session, error) { return a.s.sessionsOf(c) }
func (a webAccess) EndSession(c *gin.Context, id string) error        { return a.s.endSession(c, id) }

func (a webAccess) CreateCalendarKey(c *gin.Context, site string) (path string, err error) {
	k, err := a.s.createCalendarKey(c, site)
	return k.Path, err
}
func (a webAccess) RemoveCalendarKey(c *gin.Context, site string) error {
	return a.s.removeCalendarKey(c, site)
}

func (a webAccess) AddWebhook(c *gin.Context, w models.Webhook) (models.Webhook, string, error) {
	return a.s.addWebhook(c, w)
}
func (a webAccess) RemoveWebhook(c *gin.Context, id string) error { return a.s.removeWebhook(c, id) }
func (a webAccess) ReplayDelivery(c *gin.Context, webhook, delivery string) error {
	_, err := a.s.replayDelivery(c, webhook, delivery)
	return err
}

func (a webAccess) ChangeMail(c *gin.Context, set models.MailSettings) error {
	_, err := a.s.changeMail(c, set)
	return err
}
func (a webAccess) ChangePush(c *gin.Context, person string, list []models.MailSubscription) error {
	_, err := a.s.changePush(c, person, list)
	return err
}

func (a webAccess) RemovePushDevice(c *gin.Context, id string) error {
	return a.s.removePushDevice(c, id)
}

func (a webAccess) ResendConfirmation(c *gin.Context, person string) error {
	return a.s.resendConfirmation(c, person)
}

func (a webAccess) MailByCode(c *gin.Context, code string) (models.MailSettings, error) {
	return a.s.mailByCode(c, code)
}

func (a webAccess) ConfirmMail(c *gin.Context, code string) (models.MailSettings, error) {
	return a.s.confirmMail(c, code)
}

func (a webAccess) MailStop(c *gin.Context, token string) (models.MailStop, error) {
	return a.s.mailStop(c, token)
}
func (a webAccess) StopMail(c *gin.Context, token string, all bool) error {
	return a.s.stopMail(c, token, all)
}
