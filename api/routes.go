package api

import (
	"net/http"

	"github.com/gin-gonic/gin"
	"go.opentelemetry.io/contrib/instrumentation/github.com/gin-gonic/gin/otelgin"
	metricnoop "go.opentelemetry.io/otel/metric/noop"
	"go.opentelemetry.io/otel/propagation"

	"hotday/api/web"
	"hotday/models"

	"hotday/planner/sheet"
)

// siteScope is how a route checks the token's site.
type siteScope int

const (
	tokenSite siteScope = iota // no site in the path: scopes are checked for the token's own site, the handler checks the rest
	pathSite                   // the site in the path must be within the token's reach
)

// route is a row of the route table. A token needs one of the scopes; a route without scopes is public.
type route struct {
	method, path string
	scopes       []string
	site         siteScope
	maxBody      int64 // bytes; 0: no body
	handler      func(*gin.Context) error
}

func (r route) open() bool { return len(r.scopes) == 0 }

const livePath = "/v1/sites/:site/live"

// routes is the complete REST API.
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
		{"GET", "/healthz", nil, tokenSite, 0, s.healthz},
		{"GET", "/readyz", nil, tokenSite, 0, s.readyz},
		{"GET", "/openapi.yaml", nil, tokenSite, 0, s.getContract},
		{"GET", "/openapi", nil, tokenSite, 0, s.getContractPage},
		{"GET", "/openapi.css", nil, tokenSite, 0, s.getContractCSS},

		{"POST", "/v1/session", nil, tokenSite, strangersBody, s.postSession},
		{"GET", "/v1/session", look, tokenSite, 0, s.getSession},
		{"DELETE", "/v1/session", nil, tokenSite, 0, s.deleteOwnSession},
		{"GET", "/v1/tokens", manage, tokenSite, 0, s.getTokens},
		{"POST", "/v1/tokens", manage, tokenSite, smallBody, s.postToken},
		{"DELETE", "/v1/tokens/:id", manage, tokenSite, 0, s.deleteToken},
		{"GET", "/v1/sessions", look, tokenSite, 0, s.getSessions},
		{"DELETE", "/v1/sessions/:id", look, tokenSite, 0, s.deleteSessionByID},
		{"GET", "/v1/people", manage, tokenSite, 0, s.getPeople},
		{"POST", "/v1/people", manage, tokenSite, smallBody, s.postPerson},
		{"PUT", "/v1/people/:id", manage, tokenSite, smallBody, s.putPerson},
		{"DELETE", "/v1/people/:id", manage, tokenSite, 0, s.deletePerson},
		{"POST", "/v1/people/:id/link", manage, tokenSite, smallBody, s.postLink},
		{"GET", "/v1/people/:id/mail", manage, tokenSite, 0, s.getMail},
		{"PUT", "/v1/people/:id/mail", manage, tokenSite, smallBody, s.putMail},
		{"POST", "/v1/people/:id/mail/confirmation", manage, tokenSite, smallBody, s.postMailConfirmation},
		{"GET", "/v1/people/:id/mail/log", manage, tokenSite, 0, s.getMailLog},
		{"GET", "/v1/people/:id/push", manage, tokenSite, 0, s.getPush},
		{"PUT", "/v1/people/:id/push", manage, tokenSite, smallBody, s.putPush},
		{"GET", "/v1/people/:id/push/log", manage, tokenSite, 0, s.getPushLog},
		{"GET", "/v1/push-key", look, tokenSite, 0, s.getPushKey},
		{"DELETE", "/v1/push-devices/:id", look, tokenSite, 0, s.deletePushDevice},
		{"POST", "/v1/welcome", nil, tokenSite, strangersBody, s.postWelcome},
		{"PUT", "/v1/password", look, tokenSite, smallBody, s.putPassword},
		{"GET", "/v1/audit", manage, tokenSite, 0, s.getAudit},
		{"GET", "/v1/webhooks", manage, tokenSite, 0, s.getWebhooks},
		{"POST", "/v1/webhooks", manage, tokenSite, smallBody, s.postWebhook},
		{"DELETE", "/v1/webhooks/:id", manage, tokenSite, 0, s.deleteWebhook},
		{"GET", "/v1/webhooks/:id/deliveries", manage, tokenSite, 0, s.getDeliveries},
		{"POST", "/v1/webhooks/:id/deliveries/:delivery/replay", manage, tokenSite, smallBody, s.postReplay},
		{"POST", "/v1/screen-pairings", nil, tokenSite, strangersBody, s.postPairing},
		{"POST", "/v1/screen-pairings/:id/claim", nil, tokenSite, strangersBody, s.postClaim},
		{"GET", "/v1/screens", manage, tokenSite, 0, s.getScreens},
		{"POST", "/v1/screens", manage, tokenSite, smallBody, s.postScreen},
		{"PUT", "/v1/screens/:id", manage, tokenSite, smallBody, s.putScreen},
		{"DELETE", "/v1/screens/:id", manage, tokenSite, 0, s.deleteScreen},
		{"GET", site + "/calendar-key", manage, pathSite, 0, s.getCalendarKey},
		{"POST", site + "/calendar-key", manage, pathSite, smallBody, s.postCalendarKey},
		{"DELETE", site + "/calendar-key", manage, pathSite, 0, s.deleteCalendarKey},
		{"GET", "/v1/sites", look, tokenSite, 0, s.getSites},
		{"GET", "/v1/site-states", read, tokenSite, 0, s.getSiteStates},
		{"GET", "/v1/orders", read, tokenSite, 0, s.getOrders},
		{"GET", "/v1/recalls", read, tokenSite, 0, s.getRecall},
		{"GET", "/v1/groups", look, tokenSite, 0, s.getGroups},
		{"GET", "/v1/groups/:group", look, tokenSite, 0, s.getGroup},
		{"PUT", "/v1/groups/:group", manage, tokenSite, rowsBody, s.putGroup},
		{"DELETE", "/v1/groups/:group", manage, tokenSite, 0, s.deleteGroup},

		{"DELETE", site, manage, pathSite, 0, s.deleteSite},
		{"GET", site + "/export", manage, pathSite, 0, s.getExport},
		{"POST", site + "/push-devices", read, pathSite, smallBody, s.postPushDevice},
		{"GET", site + "/setup", manage, pathSite, 0, s.getSetup},
		{"PUT", site + "/setup", manage, pathSite, documentBody, s.putSetup},
		{"POST", site + "/sign-offs", manage, pathSite, smallBody, s.postSignOff},
		{"GET", site + "/learnt", read, pathSite, 0, s.getLearnt},
		{"POST", site + "/learnt/:id/use", manage, pathSite, smallBody, s.postUse},
		{"POST", site + "/learnt/:id/undo", manage, pathSite, smallBody, s.postUndo},

		{"POST", site + "/sales-counts", sales, pathSite, rowsBody, s.postSalesCounts},
		{"POST", site + "/sales-files", sales, pathSite, largeBody, s.postSalesFile},
		{"GET", site + "/sales-counts", look, pathSite, 0, s.getSalesCounts},
		{"GET", site + "/item-mappings", manage, pathSite, 0, s.getMappings},
		{"PUT", site + "/item-mappings", manage, pathSite, rowsBody, s.putMappings},
		{"DELETE", site + "/item-mappings", manage, pathSite, 0, s.deleteMapping},
		{"GET", site + "/expected-demand", read, pathSite, 0, s.getExpectedDemand},
		{"PUT", site + "/expected-demand", manage, pathSite, rowsBody, s.putExpectedDemand},
		{"GET", site + "/weather", look, pathSite, 0, s.getWeather},
		{"PUT", site + "/weather", sales, pathSite, rowsBody, s.putWeather},
		{"GET", site + "/weather-highs", read, pathSite, 0, s.getWeatherHighs},
		{"PUT", site + "/weather-highs", manage, pathSite, rowsBody, s.putWeatherHighs},
		{"GET", site + "/weather-fetch", read, pathSite, 0, s.getWeatherFetch},
		{"GET", site + "/events", read, pathSite, 0, s.getEvents},
		{"PUT", site + "/events", manage, pathSite, rowsBody, s.putEvents},
		{"DELETE", site + "/events", manage, pathSite, 0, s.deleteEvent},
		{"GET", site + "/holidays", read, pathSite, 0, s.getHolidays},
		{"POST", site + "/holidays", manage, pathSite, smallBody, s.postHolidays},
		{"GET", site + "/outages", read, pathSite, 0, s.getOutages},
		{"PUT", site + "/outages", manage, pathSite, rowsBody, s.putOutages},
		{"POST", site + "/outages/now", kitchen, pathSite, smallBody, s.postOutageNow},
		{"DELETE", site + "/outages/now", kitchen, pathSite, 0, s.deleteOutageNow},
		{"GET", site + "/attention", read, pathSite, 0, s.getAttention},
		{"PUT", site + "/attention", manage, pathSite, rowsBody, s.putAttention},
		{"GET", site + "/off-sale", look, pathSite, 0, s.getOffSale},
		{"POST", site + "/off-sale", pos, pathSite, rowsBody, s.postOffSale},
		{"DELETE", site + "/off-sale", pos, pathSite, 0, s.deleteOffSale},
		{"GET", site + "/stock-counts", read, pathSite, 0, s.getStockCounts},
		{"POST", site + "/stock-counts", kitchen, pathSite, smallBody, s.postStockCount},
		{"DELETE", site + "/stock-counts", kitchen, pathSite, 0, s.deleteStockCount},
		{"GET", site + "/stock-changes", read, pathSite, 0, s.getStockChanges},
		{"POST", site + "/stock-changes", kitchen, pathSite, rowsBody, s.postStockChanges},

		{"GET", site + "/measured-brews", read, pathSite, 0, s.getMeasuredBrews},
		{"PUT", site + "/measured-brews", kitchen, pathSite, rowsBody, s.putMeasuredBrews},
		{"DELETE", site + "/measured-brews", kitchen, pathSite, 0, s.deleteMeasuredBrew},

		{"GET", site + "/forecast", read, pathSite, 0, s.getForecast},
		{"GET", site + "/review", read, pathSite, 0, s.getReview},
		{"POST", site + "/replays", manage, pathSite, smallBody, s.postPastReplay},
		{"GET", site + "/replays/latest", read, pathSite, 0, s.getPastReplay},
		{"GET", site + "/work", read, pathSite, 0, s.getWork},
		{"DELETE", site + "/work/:kind", manage, pathSite, 0, s.deleteWork},
		{"POST", site + "/plans", manage, pathSite, smallBody, s.postPlan},
		{"GET", site + "/plans", read, pathSite, 0, s.getPlans},
		{"GET", site + "/plans/:rev", read, pathSite, 0, s.getPlan}, // "latest" too
		{"GET", site + "/plans/:rev/request", manage, pathSite, 0, s.getPlanRequest},
		{"GET", site + "/plans/:rev/changes/:other", read, pathSite, 0, s.getPlanChanges},
		{"POST", site + "/plans/:rev/publish", manage, pathSite, smallBody, s.postPublish},
		{"POST", site + "/plans/:rev/set-aside", manage, pathSite, smallBody, s.postSetAside},
		{"GET", site + "/prep-sheets/:date", read, pathSite, 0, s.getPrepSheet},
		{"GET", site + "/prep-sheets/:date/labels", read, pathSite, 0, s.getLabels},
		{"POST", site + "/prep-sheets/:date/delay", kitchen, pathSite, smallBody, s.postDelay},
		{"DELETE", site + "/prep-sheets/:date/delay", kitchen, pathSite, 0, s.deleteDelay},
		{"GET", site + "/prep.ics", nil, pathSite, 0, s.getCalendar}, // authorised by its key
		{"GET", livePath, read, pathSite, 0, s.getLive},
		{"GET", site + "/warnings", look, pathSite, 0, s.getWarnings},
		{"POST", site + "/warnings/:id/ack", kitchen, pathSite, smallBody, s.postAck},

		{"POST", "/v1/tasks/:id/marks", kitchen, tokenSite, smallBody, s.postMark},
		{"POST", "/v1/plan-previews", manage, tokenSite, documentBody, s.postPreview},
		{"POST", "/v1/calc/:kind", read, tokenSite, documentBody, s.postCalc},
	}
	for _, p := range setupParts {
		list = append(list,
			route{"GET", site + "/setup/" + p.name, manage, pathSite, 0, s.getSetupPart(p)},
			route{"PUT", site + "/setup/" + p.name, manage, pathSite, documentBody, s.putSetupPart(p)})
	}
	return list
}

// gin's mode is global. Release mode keeps gin from printing every route.
func init() { gin.SetMode(gin.ReleaseMode) }

func (s *Server) router() *gin.Engine {
	e := gin.New()
	e.HandleMethodNotAllowed = true
	e.RedirectTrailingSlash = false
	e.RedirectFixedPath = false
	if s.Traces != nil {
		e.Use(otelgin.Middleware("hotday", otelgin.WithTracerProvider(s.Traces), otelgin.WithPropagators(propagation.TraceContext{}),
			otelgin.WithMeterProvider(metricnoop.NewMeterProvider()), otelgin.WithGinFilter(func(c *gin.Context) bool { return c.FullPath() != livePath })))
	}
	e.Use(s.logRequest, s.recoverPanic, s.securityHeaders, s.allowCrossOrigin, s.refuseCrossOrigin, s.authenticate, s.csrfGuard)
	e.NoRoute(func(c *gin.Context) {
		s.writeProblem(c, models.Errorf(models.CodeNotFound, "there is no such path"))
	})
	e.NoMethod(func(c *gin.Context) {
		s.writeProblem(c, methodNotAllowed(c.Request.Method, c.Writer.Header().Get("Allow")))
	})
	for _, r := range s.routes() {
		e.Handle(r.method, r.path, s.handle(r))
		if r.method == http.MethodGet && r.path != livePath { // net/http omits the body of HEAD responses
			e.Handle(http.MethodHead, r.path, s.handle(r))
		}
	}
	web.Register(e, web.Deps{
		Store: s.Store, Now: s.Now, Log: s.Log,
		Current: callerToken,
		CSRF:    func(c *gin.Context) string { return c.GetString(csrfKey) },
		SignIn:  s.signInWithKey, SignOut: s.signOut, Access: webAccess{s}, Mail: s.Mail, Origin: s.origin,
		OrderPlan: func(c *gin.Context, o models.PlanOrder) error { _, err := s.orderPlan(c, o); return err },
		StopWork:  s.stopWork, Recall: s.recallForPage,
		Compute:   s.computeWithFix, Changes: sheet.Changes,
		SaveSetup: s.saveSetup, SignOff: s.signOff, UseLearnt: s.useLearnt, UndoLearnt: s.undoLearnt, SaveMappings: func(c *gin.Context, m []models.ItemMapping) error { _, err := s.saveMappings(c, m); return err }, DropMappings: s.dropMappings, SaveSiteEvents: s.saveSiteEvents, SaveHigh: s.saveHigh, SaveExpected: s.saveExpected, AddHolidays: s.addHolidays, Example: s.Example,
		Demo: s.Demo, OneTime: s.OneTime,
	})
	return e
}

func (s *Server) handle(r route) gin.HandlerFunc {
	return func(c *gin.Context) {
		c.Header("Cache-Control", "no-store")
		if err := s.authorise(c, r); err != nil {
			s.writeProblem(c, err)
			return
		}
		if r.path != livePath && (!r.open() || r.maxBody > 0) {
			done, err := s.reserve(c, &s.budgets.requests, 1)
			if err != nil {
				s.writeProblem(c, err)
				return
			}
			defer done()
		}
		if r.maxBody > 0 {
			done, err := s.admitBody(c, r.maxBody)
			if err != nil {
				s.writeProblem(c, err)
				return
			}
			defer done()
		}
		if err := r.handler(c); err != nil {
			s.writeProblem(c, err)
		}
	}
}

// csrfGuard requires the CSRF token on every change made in a session. It admits forms before it reads the token from one.
func (s *Server) csrfGuard(c *gin.Context) {
	if takesForm(c) && !isSafe(c.Request.Method) {
		done, err := s.admitForm(c)
		if err != nil {
			s.writeProblem(c, err)
			return
		}
		defer done()
	}
	if err := checkCSRF(c); err != nil {
		s.writeProblem(c, err)
		return
	}
	c.Next()
}
