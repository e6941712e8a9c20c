// Package web serves the pages: Weekend for the manager, Kitchen for the wall, the printed prep sheet, and signing in. Pages are
// made on the server from templates; pictures are SVG made on the server; the few scripts are written by hand and served from
// here. Nothing is loaded from any other place, and no page needs inline script or style, so the content security policy
// refuses both.
package web

import (
	"context"
	"log/slog"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// Deps is what the pages need from the service around them. All are required.
type Deps struct {
	Store models.Store
	Now   func() time.Time // the clock of the service
	Log   *slog.Logger

	// Current returns the access key that the request's session (or bearer token) carries; false: nobody is signed in.
	Current func(c *gin.Context) (models.Token, bool)
	// CSRF returns the token that a form field "csrf" or a header X-CSRF-Token must carry on every change made in a session.
	CSRF func(c *gin.Context) string
	// SignIn starts a session for an access key, or returns a CodeUnauthorised *models.Error.
	SignIn func(c *gin.Context, accessKey string) error
	// Secure says that people reach the service by HTTPS, which whoever answers for it in front may have taken off.
	Secure bool
	// Access is what may be done about who gets in.
	Access Access
	// SignOut ends the session.
	SignOut func(c *gin.Context) error

	// SaveSetup stores a checked set-up in place of the one that etag names; "": there is none yet.
	SaveSetup func(c *gin.Context, setup models.Setup, etag string) error
	// SaveMappings stores which item of the point of sale is which drink.
	SaveMappings func(c *gin.Context, mappings []models.ItemMapping) error
	// SaveKnown takes back what was said of the days, gone, and says other things in its place. What is wrong with said has pointers
	// that end in the name of its field.
	SaveKnown func(c *gin.Context, gone, said models.Known) error
	// Example returns a shop that a new one may be copied from; nil: there is none.
	Example func(now time.Time) models.Setup

	// Compute makes the plan of a request with one way out taken; it needs to name no ways out of its own.
	Compute func(ctx context.Context, r models.PlanRequest) (models.Plan, error)
	// Changes is planner.Changes: what differs between two plans, in words.
	Changes func(before, after models.Plan, s models.Setup) []models.Change
}

type pages struct {
	Deps
	served map[string]bool // the pages of sitePages that are there
}

// Register adds the pages to r. The service around them checks the CSRF token of every POST before it gets here.
//
//	GET  /                        to the one site of the access key, or a choice of sites
//	GET  /sign-in, POST /sign-in  form fields "key", and "name" where it is a password
//	POST /sign-out
//	GET  /welcome, POST /welcome  whoever was invited chooses a password
//	GET  /account, POST /account/{form}
//	GET  /s/{site}/people, POST /s/{site}/people/{form}
//	GET  /screen                  a new wall screen shows the code that pairs it
//	GET  /s/{site}/weekend        POST /s/{site}/weekend/try: the plan with one way out
//	GET  /s/{site}/known          what is known of these days; POST: take back; /s/{site}/known/{kind}: GET a form, POST it
//	GET  /s/{site}/kitchen        ?part=board: only what changes through the day
//	GET  /s/{site}/kitchen-worker.js  keeps the last board for a screen without a network
//	GET  /s/{site}/count          what is really there
//	GET  /s/{site}/recipes        ?beverage=CODE: one recipe to dial in
//	GET  /setup/new               POST: a shop begins, as a copy or empty
//	GET  /s/{site}/setup          its steps; /s/{site}/setup/{step}: GET the fields, POST them; ?check=1: only what is wrong
//	GET  /s/{site}/setup-book     the set-up as a workbook; POST one: what it would change; POST …/take: take it
//	GET  /s/{site}/till-items     POST: which item of the point of sale is which drink
//	GET  /static/{version}/{file}
func Register(r gin.IRouter, deps Deps) {
	p := &pages{Deps: deps}
	defer func() { p.served = servedPages(r) }() // whatever is registered below
	r.GET("/static/*file", serveStatic)
	g := r.Group("/", policy)
	g.GET("/", p.choose)
	g.GET("/sign-in", p.signInForm)
	g.POST("/sign-in", p.signIn)
	g.POST("/sign-out", p.signOut)
	g.GET("/screen", p.screen)
	g.GET("/welcome", p.welcomeForm)
	g.POST("/welcome", p.welcome)
	g.GET("/account", p.account)
	g.POST("/account/:form", p.changeAccount)
	g.GET("/s/:site/people", p.people)
	g.POST("/s/:site/people/:form", p.changePeople)
	g.GET("/weekend", p.choose)
	g.GET("/kitchen", p.choose)
	g.GET("/setup/new", p.newSite)
	g.POST("/setup/new", p.postNewSite)
	g.GET("/s/:site/setup", p.setup)
	g.GET("/s/:site/setup/:section", p.setupSection)
	g.POST("/s/:site/setup/:section", p.postSetupSection)
	g.GET("/s/:site/setup-book", p.getBook)
	g.POST("/s/:site/setup-book", p.postBook)
	g.POST("/s/:site/setup-book/take", p.takeBook)
	g.GET("/s/:site/till-items", p.tillItems)
	g.POST("/s/:site/till-items", p.postTillItems)
	g.GET("/s/:site/weekend", p.weekend)
	g.GET("/s/:site/known", p.known)
	g.POST("/s/:site/known", p.takeKnownBack)
	g.GET("/s/:site/known/:kind", p.knownForm)
	g.POST("/s/:site/known/:kind", p.postKnown)
	g.POST("/s/:site/weekend/try", p.try)
	g.GET("/s/:site/kitchen", p.kitchen)
	g.GET("/s/:site/kitchen-worker.js", kitchenWorker)
	g.GET("/s/:site/review", p.review)
	g.GET("/s/:site/review/replay.svg", p.replayChart)
	g.GET("/s/:site/count", p.count)
	g.GET("/s/:site/recipes", p.recipes)
}

// policy lets a page load only what this service serves, and nobody frame it.
func policy(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "+
		"form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	c.Next()
}
