package api

import (
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// webhookBody asks to be told. Site null or left out: of the caller's own reach.
type webhookBody struct {
	URL    string   `json:"url" validate:"min=1,max=2000"`
	Events []string `json:"events" opt:"false" validate:"min=1,max=3,dive,oneof=plan.published warning.raised task.marked"`
	Site   *string  `json:"site"`
}

// newWebhook is a webhook with the secret that signs what it is sent, which is shown this once.
type newWebhook struct {
	models.Webhook
	Secret string `json:"secret"`
}

func (s *Server) postWebhook(c *gin.Context) error {
	var body webhookBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := current(c)
	kept, secret, err := s.addWebhook(c, models.Webhook{URL: body.URL, Events: body.Events, Site: siteOf(body.Site, caller)})
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/webhooks/"+kept.ID)
	return answer(c, http.StatusCreated, newWebhook{kept, secret})
}

func (s *Server) addWebhook(c *gin.Context, w models.Webhook) (kept models.Webhook, secret string, err error) {
	ctx := c.Request.Context()
	caller, _ := current(c)
	if w.Site != "" || caller.Site != "" {
		if err := s.siteWithin(ctx, caller, w.Site, ""); err != nil {
			return kept, "", err
		}
	}
	if err := s.checkHookURL(w.URL); err != nil {
		return kept, "", err
	}
	if len(w.Events) == 0 {
		return kept, "", models.Invalid("/events", "at least one of plan.published, warning.raised, task.marked", "it would be told nothing")
	}
	for i, e := range w.Events {
		if e != models.HookPublished && e != models.HookWarning && e != models.HookMarked {
			return kept, "", models.Invalid("/events/"+itoa(int64(i)), "one of plan.published, warning.raised, task.marked", "%q is not known here", e)
		}
	}
	slices.Sort(w.Events)
	w.Events, w.CreatedBy = slices.Compact(w.Events), caller.Name
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if kept, secret, err = tx.AddWebhook(ctx, w, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, w.Site, models.DidAddWebhook, w.URL)
	})
	return kept, secret, err
}

// checkHookURL says early what a delivery would be refused for. What a name stands for is held against the same rule at each
// delivery (jobs/deliver.go), since it can change.
func (s *Server) checkHookURL(raw string) error {
	accepted := "an https address on the public internet, such as https://example.com/hotday"
	if s.PrivateWebhooks {
		accepted = "an http or https address"
	}
	u, err := url.Parse(raw)
	switch {
	case len(raw) > 2000:
		return models.Invalid("/url", accepted, "the address is longer than 2,000 characters")
	case err != nil || u.Host == "" || u.Opaque != "" || (u.Scheme != "https" && u.Scheme != "http"):
		return models.Invalid("/url", accepted, "%q is no such address", raw)
	case u.User != nil:
		return models.Invalid("/url", accepted, "a name and password in the address would be shown to everybody who manages; the signature says who sends")
	case u.Fragment != "":
		return models.Invalid("/url", accepted, "what stands after # is never sent")
	case s.PrivateWebhooks:
		return nil
	case u.Scheme != "https":
		return models.Invalid("/url", accepted, "http can be read and changed on its way")
	}
	host := strings.TrimSuffix(strings.ToLower(u.Hostname()), ".")
	if ip := net.ParseIP(host); (ip != nil && !models.PublicAddress(ip)) || host == "localhost" || strings.HasSuffix(host, ".localhost") {
		return models.Invalid("/url", accepted, "%s is an address of this machine or of a private network; whoever runs the service can allow them", host)
	}
	return nil
}

func (s *Server) getWebhooks(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	all, err := s.Store.Webhooks(c.Request.Context())
	if err != nil {
		return err
	}
	caller, _ := current(c)
	return answerPart(c, slices.DeleteFunc(all, func(w models.Webhook) bool { return !reachesSite(caller, w.Site) }), p)
}

// reachWebhook finds a webhook that the caller may see and change.
func (s *Server) reachWebhook(c *gin.Context, id string) (models.Webhook, error) {
	w, _, err := s.Store.Webhook(c.Request.Context(), id)
	if caller, _ := current(c); err == nil && !reachesSite(caller, w.Site) {
		err = models.Errorf(models.CodeNotFound, "there is no webhook %q", id)
	}
	return w, err
}

func (s *Server) deleteWebhook(c *gin.Context) error {
	if err := s.removeWebhook(c, c.Param("id")); err != nil {
		return err
	}
	return noContent(c)
}

func (s *Server) removeWebhook(c *gin.Context, id string) error {
	ctx := c.Request.Context()
	w, err := s.reachWebhook(c, id)
	if err != nil {
		return err
	}
	return s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RemoveWebhook(ctx, id); err != nil {
			return err
		}
		return s.note(c, tx, w.Site, models.DidRemoveWebhook, w.URL)
	})
}

func (s *Server) getDeliveries(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	w, err := s.reachWebhook(c, c.Param("id"))
	if err != nil {
		return err
	}
	rows, err := s.Store.Deliveries(c.Request.Context(), w.ID, p)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, rows)
}

func (s *Server) postReplay(c *gin.Context) error {
	if err := noFields(c); err != nil {
		return err
	}
	d, err := s.replayDelivery(c, c.Param("id"), c.Param("delivery"))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, d)
}

func (s *Server) replayDelivery(c *gin.Context, webhook, delivery string) (d models.Delivery, err error) {
	ctx := c.Request.Context()
	w, err := s.reachWebhook(c, webhook)
	if err != nil {
		return d, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if d, err = tx.Delivery(ctx, delivery); err != nil || d.Webhook != w.ID {
			return models.Errorf(models.CodeNotFound, "there is no delivery %q to this webhook", delivery)
		}
		if d, err = tx.Replay(ctx, delivery, s.Now()); err != nil {
			return err
		}
		return s.note(c, tx, w.Site, models.DidReplayDelivery, d.Event+" to "+w.URL)
	})
	return d, err
}
