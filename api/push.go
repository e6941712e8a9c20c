package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// pushDeviceBody is the body of POST push-devices: the subscription as the browser has it.
type pushDeviceBody struct {
	Endpoint string          `json:"endpoint" validate:"min=1,max=2000"` // https
	Keys     models.PushKeys `json:"keys" opt:"false"`
}

// pushBody is the body of PUT push: what the person gets from the sites that are given.
type pushBody struct {
	Subscriptions []pushSubscriptionBody `json:"subscriptions" opt:"false" validate:"max=200,dive"`
}

// pushSubscriptionBody is what a person's devices show of a site.
type pushSubscriptionBody struct {
	Site  string   `json:"site" validate:"min=1"`
	Kinds []string `json:"kinds" opt:"false" validate:"max=3,dive,oneof=sheet act_now act_today"`
}

// pushKeyResponse is the public key that browsers subscribe with.
type pushKeyResponse struct {
	Key string `json:"key"` // the applicationServerKey: a point on P-256 in base64url
}

func (s *Server) getPushKey(c *gin.Context) error {
	public, _, err := s.Store.PushKey(c.Request.Context(), s.Now())
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, pushKeyResponse{public})
}

// postPushDevice turns notifications of a site on for the caller's browser.
func (s *Server) postPushDevice(c *gin.Context) error {
	var body pushDeviceBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	if caller.Kind != models.TokenPerson {
		return models.Errorf(models.CodeConflict, "notifications are for people: sign in with a name and a password, not an access key")
	}
	if err := s.checkOutsideURL("/endpoint", body.Endpoint); err != nil {
		return err
	}
	if err := body.Keys.Check("/keys"); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	d := models.PushDevice{Person: caller.ID, Site: site, Endpoint: body.Endpoint, Keys: body.Keys, Browser: models.OneLine(c.GetHeader("User-Agent"), 300), Origin: s.origin(c), CreatedAt: s.Now()}
	var stored models.PushDevice
	var added bool
	err := s.Store.Within(ctx, func(tx models.Store) (err error) {
		if stored, added, err = tx.AddPushDevice(ctx, d); err != nil || !added {
			return err
		}
		return s.audit(c, tx, site, models.AuditPushOn, caller.Name)
	})
	if err != nil {
		return err
	}
	status := http.StatusOK
	if added {
		status = http.StatusCreated
	}
	return writeJSON(c, status, stored)
}

// origin is the scheme and host by which the caller has reached the service.
func (s *Server) origin(c *gin.Context) string {
	scheme := "http://"
	if s.clientOf(c).https {
		scheme = "https://"
	}
	return scheme + c.Request.Host
}

func (s *Server) deletePushDevice(c *gin.Context) error {
	if err := s.removePushDevice(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

// removePushDevice turns notifications off on a device of the caller, or of a person within the reach of a manager; pages use it too.
func (s *Server) removePushDevice(c *gin.Context, id string) error {
	ctx := c.Request.Context()
	d, err := s.Store.PushDevice(ctx, id)
	if err != nil {
		return err
	}
	caller, _ := callerToken(c)
	p, err := s.Store.Person(ctx, d.Person)
	if err != nil {
		return err
	}
	if caller.ID != p.ID && (!caller.Reaches(p.Site, p.Groups) || !caller.Has(models.ScopeManage)) {
		return models.Errorf(models.CodeNotFound, "there is no device %q", id)
	}
	return s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RemovePushDevice(ctx, id); err != nil {
			return err
		}
		return s.audit(c, tx, d.Site, models.AuditPushOff, p.Name)
	})
}

func (s *Server) getPush(c *gin.Context) error {
	p, err := s.personInReach(c, c.Param("id"))
	if err != nil {
		return err
	}
	set, err := s.Store.PushSettings(c.Request.Context(), p.ID)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, set)
}

func (s *Server) putPush(c *gin.Context) error {
	var body pushBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	var list []models.MailSubscription
	for _, x := range body.Subscriptions {
		list = append(list, models.MailSubscription(x))
	}
	set, err := s.changePush(c, c.Param("id"), list)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, set)
}

// changePush chooses what the devices of a person within the caller's reach show; pages use it too.
func (s *Server) changePush(c *gin.Context, person string, list []models.MailSubscription) (set models.PushSettings, err error) {
	ctx := c.Request.Context()
	p, err := s.personInReach(c, person)
	if err != nil {
		return set, err
	}
	if err := s.checkSubscriptions(c, p, list); err != nil {
		return set, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		before, err := tx.PushSettings(ctx, p.ID)
		if err != nil {
			return err
		}
		if set, err = tx.PutPushKinds(ctx, p.ID, list); err != nil {
			return err
		}
		changes := changedKinds(before.Kinds, set.Kinds, list)
		if len(changes) == 0 {
			return nil
		}
		return s.audit(c, tx, p.Site, models.AuditChangePush, p.Name+" ("+strings.Join(changes, "; ")+")")
	})
	return set, err
}

func (s *Server) getPushLog(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	page := q.page()
	if err := q.err(); err != nil {
		return err
	}
	p, err := s.personInReach(c, c.Param("id"))
	if err != nil {
		return err
	}
	rows, err := s.Store.PushLog(c.Request.Context(), p.ID, page)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, rows)
}
