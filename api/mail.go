package api

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// mailBody is the body of PUT mail: the address, and what goes to it from the sites that are given. Address null or left out: none.
type mailBody struct {
	Address       *string                `json:"address"`
	Subscriptions []mailSubscriptionBody `json:"subscriptions" validate:"max=200,dive"`
}

// mailSubscriptionBody is what a person gets from a site.
type mailSubscriptionBody struct {
	Site  string   `json:"site" validate:"min=1"`
	Kinds []string `json:"kinds" opt:"false" validate:"max=4,dive,oneof=sheet act_now act_today weekly_review"`
}

func (s *Server) getMail(c *gin.Context) error {
	p, err := s.personInReach(c, c.Param("id"))
	if err != nil {
		return err
	}
	set, err := s.Store.MailSettings(c.Request.Context(), p.ID)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, set)
}

func (s *Server) putMail(c *gin.Context) error {
	var body mailBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	set := models.MailSettings{Person: c.Param("id")}
	if body.Address != nil {
		set.Address = *body.Address
	}
	for _, x := range body.Subscriptions {
		set.Subscriptions = append(set.Subscriptions, models.MailSubscription(x))
	}
	stored, err := s.changeMail(c, set)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, stored)
}

// changeMail stores the address and subscriptions of a person within the caller's reach, and sends the confirmation to a new address; pages
// use it too.
func (s *Server) changeMail(c *gin.Context, set models.MailSettings) (stored models.MailSettings, err error) {
	ctx := c.Request.Context()
	p, err := s.personInReach(c, set.Person)
	if err != nil {
		return stored, err
	}
	if set.Address != "" {
		if err := s.requireMail(); err != nil {
			return stored, err
		}
		address, ok := models.MailAddress(set.Address)
		if !ok {
			return stored, models.Invalid("/address", "one e-mail address such as ada@example.com", "%q is not an e-mail address", set.Address)
		}
		set.Address = address
	} else if slices.ContainsFunc(set.Subscriptions, func(x models.MailSubscription) bool { return len(x.Kinds) > 0 }) {
		return stored, models.Invalid("/address", "one e-mail address such as ada@example.com", "there is no address to send to")
	}
	if err := s.checkSubscriptions(c, p, set.Subscriptions); err != nil {
		return stored, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		before, err := tx.MailSettings(ctx, p.ID)
		if err != nil {
			return err
		}
		if stored, err = tx.PutMailSettings(ctx, set); err != nil {
			return err
		}
		if stored.Address != "" && stored.Address != before.Address {
			if err := tx.QueueConfirmation(ctx, p.ID, s.Now()); err != nil {
				return err
			}
		}
		return s.auditMail(c, tx, p, before, stored)
	})
	return stored, err
}

// auditMail records what has changed, by site.
func (s *Server) auditMail(c *gin.Context, tx models.Store, p models.Person, before, after models.MailSettings) error {
	var changes []string
	switch {
	case after.Address == "" && before.Address != "":
		changes = append(changes, "no address")
	case after.Address != before.Address:
		changes = append(changes, after.Address)
	}
	changes = append(changes, changedKinds(before.Kinds, after.Kinds, slices.Concat(before.Subscriptions, after.Subscriptions))...)
	if len(changes) == 0 {
		return nil
	}
	return s.audit(c, tx, p.Site, models.AuditChangeMail, p.Name+" ("+strings.Join(changes, "; ")+")")
}

// changedKinds lists the sites of a list of subscriptions with the kinds that are there after a change, unless they are as before.
func changedKinds(before, after func(site string) []string, list []models.MailSubscription) (changes []string) {
	seen := map[string]bool{}
	for _, x := range list {
		if seen[x.Site] {
			continue
		}
		seen[x.Site] = true
		if kinds := after(x.Site); !slices.Equal(kinds, before(x.Site)) {
			changes = append(changes, x.Site+": "+cmp.Or(strings.Join(kinds, ", "), "nothing"))
		}
	}
	return changes
}

// requireMail returns CodeConflict on a service without a mail server.
func (s *Server) requireMail() error {
	if s.Mail {
		return nil
	}
	return models.Errorf(models.CodeConflict, "e-mail is not set up: the operator starts the service with --smtp, --mail-from and --public-url")
}

// checkSubscriptions checks that the person may read at each site.
func (s *Server) checkSubscriptions(c *gin.Context, p models.Person, list []models.MailSubscription) error {
	caller, _ := callerToken(c)
	reader, err := s.Store.TokenByID(c.Request.Context(), p.ID)
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for i, x := range list {
		at := "/subscriptions/" + strconv.Itoa(i)
		_, _, err := s.Store.Setup(c.Request.Context(), x.Site)
		if err != nil && models.CodeOf(err) != models.CodeNotFound {
			return err
		}
		switch {
		case err != nil || !reachesSite(caller, x.Site):
			return models.Invalid(at+"/site", "the code of a site that is set up", "there is no site %q", x.Site)
		case seen[x.Site]:
			return models.Invalid(at+"/site", "each site once", "site %q is given twice", x.Site)
		case !reader.MayGet(x.Site) && len(x.Kinds) > 0:
			return models.Invalid(at+"/kinds", "nothing, unless the person has scope manage, kitchen or read there", "%s may not read at site %q", p.Name, x.Site)
		}
		seen[x.Site] = true
	}
	return nil
}

func (s *Server) postMailConfirmation(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	if err := s.resendConfirmation(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

// resendConfirmation sends a new link that confirms a person's address.
func (s *Server) resendConfirmation(c *gin.Context, id string) error {
	p, err := s.personInReach(c, id)
	if err != nil {
		return err
	}
	if err := s.requireMail(); err != nil {
		return err
	}
	return s.Store.QueueConfirmation(c.Request.Context(), p.ID, s.Now())
}

func (s *Server) getMailLog(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	page := q.page()
	if err := q.err(); err != nil {
		return err
	}
	p, err := s.personInReach(c, c.Param("id"))
	if err != nil {
		return err
	}
	rows, err := s.Store.MailLog(c.Request.Context(), p.ID, page)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, rows)
}

// strangerByLink looks something up by the secret in a link. Wrong secrets count towards the rate limit of the address.
func strangerByLink[T any](s *Server, c *gin.Context, find func() (T, error)) (out T, err error) {
	if wait := s.signIns.wait(s.limitKey(c)); wait > 0 {
		return out, tooManyRequests(c, wait)
	}
	out, err = find()
	if models.CodeOf(err) == models.CodeNotFound {
		s.signIns.take(s.limitKey(c))
	}
	return out, err
}

// mailByCode returns the settings that the link of a confirmation confirms.
func (s *Server) mailByCode(c *gin.Context, code string) (models.MailSettings, error) {
	return strangerByLink(s, c, func() (models.MailSettings, error) { return s.Store.MailByCode(c.Request.Context(), code, s.Now()) })
}

// confirmMail confirms the address of a link.
func (s *Server) confirmMail(c *gin.Context, code string) (set models.MailSettings, err error) {
	if _, err := s.mailByCode(c, code); err != nil {
		return set, err
	}
	ctx := c.Request.Context()
	err = s.Store.Within(ctx, func(tx models.Store) error {
		var changed bool
		if set, changed, err = tx.ConfirmMail(ctx, code, s.Now()); err != nil || !changed {
			return err
		}
		p, err := tx.Person(ctx, set.Person)
		if err != nil {
			return err
		}
		return tx.AddAudit(ctx, models.AuditEntry{At: s.Now(), By: p.Name, ByToken: p.ID, Site: p.Site, Action: models.AuditConfirmMail, Subject: set.Address})
	})
	return set, err
}

// mailStop returns the messages that a link stops.
func (s *Server) mailStop(c *gin.Context, token string) (models.MailStop, error) {
	return strangerByLink(s, c, func() (models.MailStop, error) { return s.Store.MailStop(c.Request.Context(), token) })
}

// stopMail stops the messages of a link, or all of its person.
func (s *Server) stopMail(c *gin.Context, token string, all bool) error {
	if _, err := s.mailStop(c, token); err != nil {
		return err
	}
	ctx := c.Request.Context()
	return s.Store.Within(ctx, func(tx models.Store) error {
		stopped, err := tx.StopMail(ctx, token, all)
		if err != nil {
			return err
		}
		for _, x := range stopped {
			if err := tx.AddAudit(ctx, models.AuditEntry{At: s.Now(), By: x.Name, ByToken: x.Person, Site: x.Site, Action: models.AuditStopMail, Subject: x.Kind}); err != nil {
				return err
			}
		}
		return nil
	})
}
