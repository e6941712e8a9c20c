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

// webhookBody is the body of POST webhooks. Site null or left out: the caller's own.
type webhookBody struct {
	URL    string   `json:"url" validate:"min=1,max=2000"`
	Events []string `json:"events" opt:"false" validate:"min=1,max=5,dive,oneof=plan.published warning.raised task.marked drink.off_sale drink.on_sale"`
	Site   *string  `json:"site"`
}

// newWebhook is a new webhook with its signing secret, the only response that shows it.
type newWebhook struct {
	models.Webhook
	Secret string `json:"secret"` // signing secret; shown only in this response
}

func (s *Server) postWebhook(c *gin.Context) error {
	var body webhookBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	caller, _ := callerToken(c)
	stored, secret, err := s.addWebhook(c, models.Webhook{URL: body.URL, Events: body.Events, Site: siteOrOwn(body.Site, caller)})
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/webhooks/"+stored.ID)
	return writeJSON(c, http.StatusCreated, newWebhook{stored, secret})
}

func (s *Server) addWebhook(c *gin.Context, w models.Webhook) (stored models.Webhook, secret string, err error) {
	ctx := c.Request.Context()
	caller, _ := callerToken(c)
	if err := s.checkReach(ctx, caller, w.Site, nil); err != nil {
		return stored, "", err
	}
	if err := s.checkOutsideURL("/url", w.URL); err != nil {
		return stored, "", err
	}
	if len(w.Events) == 0 {
		return stored, "", models.Invalid("/events", "at least one of "+strings.Join(models.HookEvents, ", "), "no events are selected")
	}
	for i, e := range w.Events {
		if !slices.Contains(models.HookEvents, e) {
			return stored, "", models.Invalid("/events/"+itoa(int64(i)), "one of "+strings.Join(models.HookEvents, ", "), "unknown event %q", e)
		}
	}
	slices.Sort(w.Events)
	w.Events, w.CreatedBy = slices.Compact(w.Events), caller.Name
	err = s.Store.Within(ctx, func(tx models.Store) error {
		all, err := tx.Webhooks(ctx)
		if err := roomFor(s.Most.Webhooks, "webhooks", w.Site, all, err, func(x models.Webhook) (string, bool) { return x.Site, true }); err != nil {
			return err
		}
		if stored, secret, err = tx.AddWebhook(ctx, w, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, w.Site, models.AuditAddWebhook, w.URL)
	})
	return stored, secret, err
}

// checkOutsideURL rejects addresses, in the field at pointer, to which every request would fail. Host names are resolved and checked at
// each request (jobs/outside), since DNS can change.
func (s *Server) checkOutsideURL(pointer, raw string) error {
	accepted := "an https address on the public internet, such as https://example.com/hotday"
	if s.PrivateWebhooks {
		accepted = "an http or https address"
	}
	u, err := url.Parse(raw)
	switch {
	case len(raw) > 2000:
		return models.Invalid(pointer, accepted, "the URL is longer than 2,000 characters")
	case err != nil || u.Host == "" || u.Opaque != "" || (u.Scheme != "https" && u.Scheme != "http"):
		return models.Invalid(pointer, accepted, "%q is not such an address", raw)
	case u.User != nil:
		return models.Invalid(pointer, accepted, "credentials in the URL would be visible to every manager")
	case u.Fragment != "":
		return models.Invalid(pointer, accepted, "the part after # is never sent")
	case !models.AllowedHost(s.OutsideHosts, u.Hostname()):
		return models.Invalid(pointer, "an address on "+strings.Join(s.OutsideHosts, " or "), "the operator of the service does not allow the host %q", u.Hostname())
	case s.PrivateWebhooks:
		return nil
	case u.Scheme != "https":
		return models.Invalid(pointer, accepted, "plain http can be read and altered in transit")
	}
	host := strings.TrimSuffix(strings.ToLower(u.Hostname()), ".")
	if ip := net.ParseIP(host); (ip != nil && !models.PublicAddress(ip)) || host == "localhost" || strings.HasSuffix(host, ".localhost") {
		return models.Invalid(pointer, accepted, "%s is a loopback or private address; the operator of the service can allow these", host)
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
	caller, _ := callerToken(c)
	return writePage(c, slices.DeleteFunc(all, func(w models.Webhook) bool { return !reachesSite(caller, w.Site) }), p)
}

// webhookInReach returns a webhook of a site that the caller reaches, else CodeNotFound.
func (s *Server) webhookInReach(c *gin.Context, id string) (models.Webhook, error) {
	w, _, err := s.Store.Webhook(c.Request.Context(), id)
	if caller, _ := callerToken(c); err == nil && !reachesSite(caller, w.Site) {
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
	w, err := s.webhookInReach(c, id)
	if err != nil {
		return err
	}
	return s.Store.Within(ctx, func(tx models.Store) error {
		if err := tx.RemoveWebhook(ctx, id); err != nil {
			return err
		}
		return s.audit(c, tx, w.Site, models.AuditRemoveWebhook, w.URL)
	})
}

func (s *Server) getDeliveries(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	w, err := s.webhookInReach(c, c.Param("id"))
	if err != nil {
		return err
	}
	rows, err := s.Store.Deliveries(c.Request.Context(), w.ID, p)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, rows)
}

func (s *Server) postReplay(c *gin.Context) error {
	if err := requireEmptyBody(c); err != nil {
		return err
	}
	d, err := s.replayDelivery(c, c.Param("id"), c.Param("delivery"))
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, d)
}

func (s *Server) replayDelivery(c *gin.Context, webhook, delivery string) (d models.Delivery, err error) {
	ctx := c.Request.Context()
	w, err := s.webhookInReach(c, webhook)
	if err != nil {
		return d, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if d, err = tx.Delivery(ctx, delivery); err != nil || d.Webhook != w.ID {
			return models.Errorf(models.CodeNotFound, "this webhook has no delivery %q", delivery)
		}
		if d, err = tx.Replay(ctx, delivery, s.Now()); err != nil {
			return err
		}
		return s.audit(c, tx, w.Site, models.AuditReplayDelivery, d.Event+" to "+w.URL)
	})
	return d, err
}
