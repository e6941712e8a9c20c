package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/api/web"
	"hotday/models"

	"hotday/planner/sheet"
)

// reach says against what a token's site is held.
type reach int

const (
	byToken reach = iota // the address names no site: the token's own reach holds, the handler looks closer
	bySite               // the address names a site, which must be the token's
)

// route is one line of the table. Any of the scopes opens it; none: it is open to everybody.
type route struct {
	method, path string
	scopes       []string
	of           reach
	body         int64 // the most bytes of the body; 0: there is none
	do           func(*gin.Context) error
}

func (r route) open() bool { return len(r.scopes) == 0 }

const livePath = "/v1/sites/:site/live"

// routes is the whole of the programming interface: who may do what, and with how large a body.
func (s *Server) routes() []route {
	var (
		manage  = []string{models.ScopeManage}
		kitchen = []string{models.ScopeKitchen}
		read    = []string{models.ScopeRead}
		sales   = []string{models.ScopeSales}
		pos     = []string{models.ScopeSales, models.ScopeKitchen}
		look    = []string{models.ScopeRead, models.ScopeSales}
	)
	const site = "/v1/sites/:site"
	list := []route{
		{"GET", "/healthz", nil, byToken, 0, s.healthz},
		{"GET", "/readyz", nil, byToken, 0, s.readyz},
		{"GET", "/openapi.yaml", nil, byToken, 0, s.contract},
		{"GET", "/openapi", nil, byToken, 0, s.contractPage},
		{"GET", "/openapi.css", nil, byToken, 0, s.contractCSS},

		{"POST", "/v1/session", nil, byToken, smallBody, s.postSession},
		{"GET", "/v1/session", look, byToken, 0, s.getSession},
		{"DELETE", "/v1/session", nil, byToken, 0, s.deleteSession},
		{"GET", "/v1/tokens", manage, byToken, 0, s.getTokens},
		{"POST", "/v1/tokens", manage, byToken, smallBody, s.postToken},
		{"DELETE", "/v1/tokens/:id", manage, byToken, 0, s.deleteToken},
		{"GET", "/v1/sessions", look, byToken, 0, s.getSessions},
		{"DELETE", "/v1/sessions/:id", look, byToken, 0, s.deleteOneSession},
		{"GET", "/v1/people", manage, byToken, 0, s.getPeople},
		{"POST", "/v1/people", manage, byToken, smallBody, s.postPerson},
		{"PUT", "/v1/people/:id", manage, byToken, smallBody, s.putPerson},
		{"DELETE", "/v1/people/:id", manage, byToken, 0, s.deletePerson},
		{"POST", "/v1/people/:id/link", manage, byToken, smallBody, s.postLink},
		{"POST", "/v1/welcome", nil, byToken, smallBody, s.postWelcome},
		{"PUT", "/v1/password", look, byToken, smallBody, s.putPassword},
		{"GET", "/v1/audit", manage, byToken, 0, s.getAudit},
		{"GET", "/v1/webhooks", manage, byToken, 0, s.getWebhooks},
		{"POST", "/v1/webhooks", manage, byToken, smallBody, s.postWebhook},
		{"DELETE", "/v1/webhooks/:id", manage, byToken, 0, s.deleteWebhook},
		{"GET", "/v1/webhooks/:id/deliveries", manage, byToken, 0, s.getDeliveries},
		{"POST", "/v1/webhooks/:id/deliveries/:delivery/replay", manage, byToken, smallBody, s.postReplay},
		{"POST", "/v1/screen-pairings", nil, byToken, smallBody, s.postPairing},
		{"POST", "/v1/screen-pairings/:id/claim", nil, byToken, smallBody, s.postClaim},
		{"GET", "/v1/screens", manage, byToken, 0, s.getScreens},
		{"POST", "/v1/screens", manage, byToken, smallBody, s.postScreen},
		{"PUT", "/v1/screens/:id", manage, byToken, smallBody, s.putScreen},
		{"DELETE", "/v1/screens/:id", manage, byToken, 0, s.deleteScreen},
		{"GET", site + "/calendar-key", manage, bySite, 0, s.getCalendarKey},
		{"POST", site + "/calendar-key", manage, bySite, smallBody, s.postCalendarKey},
		{"DELETE", site + "/calendar-key", manage, bySite, 0, s.deleteCalendarKey},
		{"GET", "/v1/sites", look, byToken, 0, s.getSites},

		{"GET", site + "/setup", manage, bySite, 0, s.getSetup},
		{"PUT", site + "/setup", manage, bySite, largeBody, s.putSetup},

		{"POST", site + "/sales-counts", sales, bySite, rowsBody, s.postSalesCounts},
		{"POST", site + "/sales-files", sales, bySite, largeBody, s.postSalesFile},
		{"GET", site + "/sales-counts", look, bySite, 0, s.getSalesCounts},
		{"GET", site + "/item-mappings", manage, bySite, 0, s.getMappings},
		{"PUT", site + "/item-mappings", manage, bySite, rowsBody, s.putMappings},
		{"GET", site + "/expected-demand", read, bySite, 0, s.getExpectedDemand},
		{"PUT", site + "/expected-demand", manage, bySite, rowsBody, s.putExpectedDemand},
		{"GET", site + "/weather", look, bySite, 0, s.getWeather},
		{"PUT", site + "/weather", sales, bySite, rowsBody, s.putWeather},
		{"GET", site + "/events", read, bySite, 0, s.getEvents},
		{"PUT", site + "/events", manage, bySite, rowsBody, s.putEvents},
		{"DELETE", site + "/events", manage, bySite, 0, s.deleteEvent},
		{"GET", site + "/outages", read, bySite, 0, s.getOutages},
		{"PUT", site + "/outages", manage, bySite, rowsBody, s.putOutages},
		{"GET", site + "/attention", read, bySite, 0, s.getAttention},
		{"PUT", site + "/attention", manage, bySite, rowsBody, s.putAttention},
		{"GET", site + "/off-sale", look, bySite, 0, s.getOffSale},
		{"POST", site + "/off-sale", pos, bySite, rowsBody, s.postOffSale},
		{"DELETE", site + "/off-sale", pos, bySite, 0, s.deleteOffSale},
		{"GET", site + "/stock-counts", read, bySite, 0, s.getStockCounts},
		{"POST", site + "/stock-counts", kitchen, bySite, smallBody, s.postStockCount},
		{"GET", site + "/stock-changes", read, bySite, 0, s.getStockChanges},
		{"POST", site + "/stock-changes", kitchen, bySite, rowsBody, s.postStockChanges},

		{"GET", site + "/forecast", read, bySite, 0, s.getForecast},
		{"GET", site + "/review", read, bySite, 0, s.getReview},
		{"POST", site + "/replays", manage, bySite, smallBody, s.postPastReplay},
		{"GET", site + "/replays/latest", read, bySite, 0, s.getPastReplay},
		{"GET", site + "/work", read, bySite, 0, s.getWork},
		{"DELETE", site + "/work/:kind", manage, bySite, 0, s.deleteWork},
		{"POST", site + "/plans", manage, bySite, smallBody, s.postPlan},
		{"GET", site + "/plans", read, bySite, 0, s.getPlans},
		{"GET", site + "/plans/:rev", read, bySite, 0, s.getPlan}, // "latest" too
		{"GET", site + "/plans/:rev/request", read, bySite, 0, s.getPlanRequest},
		{"GET", site + "/plans/:rev/changes/:other", read, bySite, 0, s.getPlanChanges},
		{"POST", site + "/plans/:rev/publish", manage, bySite, smallBody, s.postPublish},
		{"POST", site + "/plans/:rev/set-aside", manage, bySite, smallBody, s.postSetAside},
		{"GET", site + "/prep-sheets/:date", read, bySite, 0, s.getPrepSheet},
		{"GET", site + "/prep-sheets/:date/labels", read, bySite, 0, s.getLabels},
		{"GET", site + "/prep.ics", nil, bySite, 0, s.getCalendar}, // by its key
		{"GET", livePath, read, bySite, 0, s.getLive},
		{"GET", site + "/warnings", look, bySite, 0, s.getWarnings},
		{"POST", site + "/warnings/:id/ack", kitchen, bySite, smallBody, s.postAck},

		{"POST", "/v1/tasks/:id/marks", kitchen, byToken, smallBody, s.postMark},
		{"POST", "/v1/plan-previews", read, byToken, largeBody, s.postPreview},
		{"POST", "/v1/calc/:kind", read, byToken, largeBody, s.postCalc},
	}
	for _, p := range setupParts {
		list = append(list,
			route{"GET", site + "/setup/" + p.name, manage, bySite, 0, s.getSetupPart(p)},
			route{"PUT", site + "/setup/" + p.name, manage, bySite, largeBody, s.putSetupPart(p)})
	}
	return list
}

// gin's mode is of the whole program: it is set once, not by each Server, and keeps gin from printing every route.
func init() { gin.SetMode(gin.ReleaseMode) }

func (s *Server) router() *gin.Engine {
	e := gin.New()
	e.HandleMethodNotAllowed = true
	e.RedirectTrailingSlash = false
	e.RedirectFixedPath = false
	_ = e.SetTrustedProxies(nil) // no address in a header is believed; nil cannot fail
	e.Use(s.logged, s.recovered, s.secured, s.identified, s.guarded)
	e.NoRoute(func(c *gin.Context) {
		s.fail(c, models.Errorf(models.CodeNotFound, "there is nothing at this address"))
	})
	e.NoMethod(func(c *gin.Context) {
		s.fail(c, methodNotAllowed(c.Request.Method, c.Writer.Header().Get("Allow")))
	})
	for _, r := range s.routes() {
		e.Handle(r.method, r.path, s.handle(r))
		if r.method == http.MethodGet && r.path != livePath { // HEAD is GET without the body, which net/http leaves out
			e.Handle(http.MethodHead, r.path, s.handle(r))
		}
	}
	web.Register(e, web.Deps{
		Store: s.Store, Now: s.Now, Log: s.Log,
		Current: current,
		CSRF:    func(c *gin.Context) string { return c.GetString(csrfKey) },
		SignIn:  s.signIn, SignOut: s.signOut, Access: access{s}, Secure: s.SecureCookies,
		Compute: s.tried, Changes: sheet.Changes,
		SaveSetup: s.saveSetup, SaveMappings: s.saveMappings, SaveKnown: s.saveKnown, Example: s.Example,
	})
	return e
}

func (s *Server) handle(r route) gin.HandlerFunc {
	return func(c *gin.Context) {
		c.Header("Cache-Control", "no-store")
		if err := s.allow(c, r); err != nil {
			s.fail(c, err)
			return
		}
		if r.body > 0 {
			if c.Request.ContentLength > r.body {
				s.fail(c, tooLarge(r.body))
				return
			}
			c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, r.body)
		}
		if err := r.do(c); err != nil {
			s.fail(c, err)
		}
	}
}

// guarded holds every change made in a session, of the pages' forms too, against the session's CSRF token.
func (s *Server) guarded(c *gin.Context) {
	if isForm(c) {
		limit := int64(smallBody)
		if _, known := current(c); known {
			limit = rowsBody // a whole set-up may be typed into a page
		}
		c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, limit)
	}
	if err := checkCSRF(c); err != nil {
		s.fail(c, err)
		return
	}
	c.Next()
}
