// Package web serves the pages. They are rendered on the server from templates, charts as SVG. Scripts and styles are served from here
// as well: nothing is loaded from other origins or inline, so the content security policy forbids both.
package web

import (
	"log/slog"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/holidays"
)

// Deps are the dependencies of the pages. All are required unless noted.
type Deps struct {
	Store models.Store
	Now   func() time.Time // the service's clock
	Log   *slog.Logger

	// Current returns the token of the request's session or bearer token; false: not signed in.
	Current func(c *gin.Context) (models.Token, bool)
	// CSRF returns the session's CSRF token, for the form field "csrf" or the header X-CSRF-Token.
	CSRF func(c *gin.Context) string
	// SignIn starts a session for an access key, or returns a CodeUnauthorised *models.Error.
	SignIn func(c *gin.Context, accessKey string) error
	// Origin is the scheme and host by which the request's browser has reached the service, possibly through a proxy that terminates TLS.
	Origin func(c *gin.Context) string
	Access Access
	Mail   bool // a mail server is set up
	// SignOut ends the session.
	SignOut func(c *gin.Context) error

	// SaveSetup stores a validated set-up. etag is the version it replaces, "" to create the site.
	SaveSetup func(c *gin.Context, setup models.Setup, etag string) error
	// SignOff records that the caller accepts a lax setting of a site.
	SignOff func(c *gin.Context, site string, x models.SignOff) (models.SignOff, error)
	// UseLearnt takes the change that the learnt value with an ID suggests, where it is still value; UndoLearnt undoes the latest.
	UseLearnt  func(c *gin.Context, site, id string, value float64) (models.LearntChange, error)
	UndoLearnt func(c *gin.Context, site, id string) (models.LearntChange, error)
	// SaveMappings stores mappings of till items to drinks.
	SaveMappings func(c *gin.Context, mappings []models.ItemMapping) error
	// DropMappings deletes an item's mappings, or the one from a day.
	DropMappings func(c *gin.Context, source, item string, from *models.Date) error
	// SaveSiteEvents deletes the rows in removed and stores those in added, in one transaction. Pointers of errors in added end in the
	// name of the field.
	SaveSiteEvents func(c *gin.Context, removed, added models.SiteEvents) error
	// SaveExpected stores the manager's numbers of the request's site.
	SaveExpected func(c *gin.Context, rows []models.ExpectedDemand) error
	// SaveHigh stores the high that a manager expects on a date; nil clears it.
	SaveHigh func(c *gin.Context, d models.Date, highC *float64) error
	// AddHolidays stores a year's public holidays of the site's country and region as events, on days that have none yet.
	AddHolidays func(c *gin.Context, year int) (models.Setup, []holidays.Holiday, error)
	// Example returns an example set-up for a new site to start from, with dates around now; nil: none.
	Example func(now time.Time) models.Setup

	// Demo is the clock of a demo; nil: a usual service, whose pages know no other time than the real one.
	Demo DemoClock
	// OneTime returns the access key for the code of a link that signs in once; nil: there are no such links.
	OneTime func(code string) (accessKey string, ok bool)

	// OrderPlan queues a plan of the request's site; its progress shows at once.
	OrderPlan func(c *gin.Context, o models.PlanOrder) error
	// StopWork asks a job of the request's site to stop, or forgets one that failed.
	StopWork func(c *gin.Context, kind string) error
	// Recall lists who used a lot of beans over the last weeks, or plans to.
	Recall func(c *gin.Context, f models.SiteStateFilter, lot string) (models.LotRecall, error)
	// Compute computes a plan with a fix applied, without searching for further fixes.
	Compute func(c *gin.Context, r models.PlanRequest) (models.Plan, error)
	// Changes is sheet.Changes.
	Changes func(before, after models.Plan, s models.Setup) []models.Change
}

type pages struct {
	Deps
	served map[string]bool // the sitePages that are registered
}

// Register adds the pages to r, which must check the CSRF token of every POST.
//
//	GET  /                        redirects to the caller's only site, or offers a choice
//	GET  /shops                   all shops, ?group=, ?search=, ?cursor=, ?part=list: only the list; /shops/orders, /shops/recall?lot=
//	GET  /sign-in, POST /sign-in  form fields "key" and, for a password, "name"; ?once=CODE signs in once
//	POST /sign-out
//	GET  /welcome, POST /welcome  choose a password with a password link
//	GET  /account, POST /account/{form}
//	GET  /mail/confirm            confirm an e-mail address with the code of a link; POST
//	GET  /mail/stop               stop messages with the token of a link; POST, also from mail programs
//	GET  /s/{site}/people, POST /s/{site}/people/{form}
//	GET  /problems/{type}         explains a problem type, for programmers
//	GET  /screen                  pairing code of a new wall screen
//	GET  /s/{site}/weekend        POST /s/{site}/weekend/try: the plan with a fix applied
//	POST /s/{site}/plan           order a plan: form fields "from" and "days"; /s/{site}/plan/cancel: stop it, or dismiss its failure
//	POST /s/{site}/expected       a day's expected drinks: see postExpected
//	POST /s/{site}/heat           how hot a day is expected to become: form fields "date" and "high", or "clear"; orders a plan
//	GET  /s/{site}/known          events; POST: delete one; /s/{site}/known/{kind}: GET a form, POST it
//	POST /s/{site}/known-undo     form fields "removed" and "added": rows as JSON
//	POST /s/{site}/known-day      an event on a day: form fields "day", "hours", "effect" or "other", "name"; orders a plan with it
//	GET  /s/{site}/kitchen        ?part=board: only the part that changes during the day
//	GET  /s/{site}/kitchen-worker.js  service worker, which caches pages for use offline
//	GET  /s/{site}/offline        the page that stands in for others without a network
//	GET  /manifest.webmanifest, /s/{site}/manifest.webmanifest?page=  to install the pages as a program
//	GET  /s/{site}/count          stock count
//	GET  /s/{site}/review         past days; /s/{site}/review/replay.svg, curve.svg: charts of the latest replay
//	GET  /s/{site}/recipes        ?beverage=CODE: dial in a recipe
//	GET  /setup/new               POST: create a shop, empty or as a copy of the example
//	GET  /s/{site}/setup          steps; /s/{site}/setup/{step}: GET the form, POST it; ?check=1: only the errors
//	GET  /s/{site}/places         ?q=TEXT: towns that begin with a text, with their coordinates, as JSON
//	GET  /s/{site}/setup-book     the set-up as a workbook; POST one: preview its changes; POST …/take: import it
//	GET  /s/{site}/delete         POST: delete the shop, with its code in the form field "confirm"
//	GET  /s/{site}/till-items     POST: map till items to drinks
//	GET  /demo/clock              of a demo; POST: stop, start or move it on
//	GET  /static/{version}/{file}
func Register(r gin.IRouter, deps Deps) {
	p := &pages{Deps: deps}
	defer func() { p.served = servedPages(r) }() // after the registrations below
	r.GET("/static/*file", serveStatic)
	g := r.Group("/", setPolicy)
	g.GET("/manifest.webmanifest", p.manifest)
	g.GET("/s/:site/manifest.webmanifest", p.manifest)
	g.GET("/s/:site/offline", p.offlinePage)
	g.GET("/problems/:type", p.problemPage)
	if p.Demo != nil {
		g.GET("/demo/clock", p.getDemoClock)
		g.POST("/demo/clock", p.postDemoClock)
	}
	g.GET("/", p.chooseSite)
	g.GET("/sign-in", p.signInForm)
	g.POST("/sign-in", p.signIn)
	g.POST("/sign-out", p.signOut)
	g.GET("/screen", p.pairingPage)
	g.GET("/welcome", p.welcomeForm)
	g.POST("/welcome", p.postWelcome)
	g.GET("/account", p.account)
	g.POST("/account/:form", p.postAccount)
	g.GET("/mail/confirm", p.confirmMailForm)
	g.POST("/mail/confirm", p.postConfirmMail)
	g.GET("/mail/stop", p.stopMailForm)
	g.POST("/mail/stop", p.postStopMail)
	g.GET("/s/:site/people", p.people)
	g.POST("/s/:site/people/:form", p.postPeople)
	g.GET("/shops", p.shops)
	g.GET("/shops/orders", p.shopOrders)
	g.GET("/shops/recall", p.shopRecall)
	g.GET("/weekend", p.chooseSite)
	g.GET("/kitchen", p.chooseSite)
	g.GET("/setup/new", p.newSite)
	g.POST("/setup/new", p.postNewSite)
	g.GET("/s/:site/setup", p.setup)
	g.GET("/s/:site/setup/:section", p.setupSection)
	g.POST("/s/:site/setup/:section", p.postSetupSection)
	g.GET("/s/:site/places", p.findPlaces)
	g.GET("/s/:site/delete", p.deleteSiteForm)
	g.POST("/s/:site/delete", p.postDeleteSite)
	g.GET("/s/:site/setup-book", p.getWorkbook)
	g.POST("/s/:site/setup-book", p.previewWorkbook)
	g.POST("/s/:site/setup-book/take", p.importWorkbook)
	g.GET("/s/:site/till-items", p.tillItems)
	g.POST("/s/:site/till-items", p.postTillItems)
	g.GET("/s/:site/weekend", p.weekend)
	g.GET("/s/:site/known", p.events)
	g.POST("/s/:site/known", p.deleteEvent)
	g.POST("/s/:site/known-day", p.postQuickEvent)
	g.POST("/s/:site/known-undo", p.postEventUndo)
	g.POST("/s/:site/holidays", p.postHolidays)
	g.POST("/s/:site/expected", p.postExpected)
	g.POST("/s/:site/plan", p.postPlan)
	g.POST("/s/:site/plan/cancel", p.cancelPlan)
	g.POST("/s/:site/heat", p.postHeat)
	g.GET("/s/:site/known/:kind", p.eventForm)
	g.POST("/s/:site/known/:kind", p.postEvent)
	g.POST("/s/:site/weekend/try", p.tryFix)
	g.POST("/s/:site/sign-off", p.postSignOff)
	g.GET("/s/:site/kitchen", p.kitchen)
	g.GET("/s/:site/kitchen-worker.js", kitchenWorker)
	g.GET("/s/:site/review", p.review)
	g.GET("/s/:site/review/replay.svg", p.replayChart)
	g.GET("/s/:site/review/curve.svg", p.replayChart)
	g.POST("/s/:site/review/learnt", p.postLearnt)
	g.GET("/s/:site/count", p.count)
	g.GET("/s/:site/recipes", p.recipes)
}

// setPolicy sets the security headers of pages: only same-origin resources, no framing.
func setPolicy(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; object-src 'none'; "+
		"form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	c.Next()
}
