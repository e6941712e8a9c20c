package web

import (
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
)

// DemoClock is the clock of a demo: Deps.Now, at a multiple of real time.
type DemoClock interface {
	Rate() float64 // its seconds in a real one, 0 while it is stopped
	Over() bool    // it has stopped by itself at the end of the day
	Start()
	Stop()
	Step(by time.Duration) // moves it on
}

// mostStep is the longest time by which one press moves the demo's clock on.
const mostStep = 4 * time.Hour

// demoBar is the demo's clock with its controls, and a short tour.
type demoBar struct {
	Clock         string // "Saturday 09:30"
	NowMS         int64
	Zone          string // of the site: "Europe/Berlin"
	Running, Over bool
	Back          string // the page's address
	Tour          []tourStep
}

type tourStep struct {
	Address, Say string
	Here         bool
}

// pace is the pace of the service's clock.
func (p *pages) pace() float64 { return rateOf(p.Demo) }

func rateOf(clock DemoClock) float64 {
	if clock == nil {
		return 1
	}
	return clock.Rate()
}

// demoBar returns the bar for a page of a site; nil: this is no demo.
func (p *pages) demoBar(c *gin.Context, site, page string, q voice) *demoBar {
	if p.Demo == nil {
		return nil
	}
	now := p.Now()
	b := &demoBar{Clock: q.At(now), NowMS: now.UnixMilli(), Zone: q.Location().String(), Running: p.Demo.Rate() > 0, Over: p.Demo.Over(), Back: c.Request.URL.RequestURI()}
	at := "/s/" + site + "/"
	b.Tour = []tourStep{
		{at + "weekend#short", q.Say("demo.tour.shortage"), page == "weekend"},
		{at + "weekend#best", q.Say("demo.tour.fix"), false},
		{at + "kitchen", q.Say("demo.tour.wall"), page == "kitchen"},
	}
	return b
}

// getDemoClock reports the demo's clock to the pages that are open.
func (p *pages) getDemoClock(c *gin.Context) {
	if _, ok := p.Current(c); !ok {
		c.Status(http.StatusUnauthorized)
		return
	}
	c.JSON(http.StatusOK, gin.H{"now": p.Now().UnixMilli(), "pace": p.Demo.Rate(), "over": p.Demo.Over()})
}

// postDemoClock stops, starts or moves on the demo's clock, by the form field "do": stop, start, or minutes.
func (p *pages) postDemoClock(c *gin.Context) {
	if _, ok := p.Current(c); !ok {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return
	}
	switch do := c.PostForm("do"); do {
	case "stop":
		p.Demo.Stop()
	case "start":
		p.Demo.Start()
	default:
		if n, err := strconv.Atoi(do); err == nil {
			p.Demo.Step(min(time.Duration(n)*time.Minute, mostStep))
		}
	}
	back := c.PostForm("back")
	if !strings.HasPrefix(back, "/s/") {
		back = "/"
	}
	c.Redirect(http.StatusSeeOther, back)
}
