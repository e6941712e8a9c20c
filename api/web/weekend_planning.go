package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// planningView is a plan that is being computed, or why the last one that was ordered failed.
type planningView struct {
	Say     string // the step in words
	Percent int
	Problem string // in words, with what to do; "": it is being computed
}

// mostPlanDays is the largest number of days that can be planned at once.
const mostPlanDays = 14

// planningRefresh is how often, in seconds, a browser without scripts shows how far a plan is.
const planningRefresh = 3

// planning returns the plan under way; nil: there is none.
func (v *weekendView) planning(work []models.Progress) *planningView {
	i := slices.IndexFunc(work, func(p models.Progress) bool { return p.Kind == models.JobPlan })
	if i < 0 {
		return nil
	}
	switch p := work[i]; {
	case p.Problem != "":
		return &planningView{Problem: v.voice.Say("planning.problem." + p.Problem)}
	case p.Alive(v.now):
		return &planningView{Say: v.voice.Say("planning.step." + p.Step), Percent: int(100 * p.Share)}
	}
	return nil
}

// postPlan orders a plan of the days in the form and shows Weekend, where its progress is.
func (p *pages) postPlan(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return
	}
	var o models.PlanOrder
	days, err := strconv.Atoi(c.PostForm("days"))
	if o.From.UnmarshalText([]byte(c.PostForm("from"))) != nil || err != nil || days < 1 || days > mostPlanDays || o.From < setup.Site.ServiceDayOf(p.Now()) {
		p.renderWeekend(c, http.StatusUnprocessableEntity, h, setup, h.voice.Say("weekend.bad_days", "most", mostPlanDays))
		return
	}
	o.Days = days
	p.order(c, o, "")
}

// order orders a plan and shows Weekend with a day of it; "": the first.
func (p *pages) order(c *gin.Context, o models.PlanOrder, day models.Date) {
	if err := p.OrderPlan(c, o); err != nil {
		p.renderError(c, err)
		return
	}
	at := "/s/" + url.PathEscape(c.Param("site")) + "/weekend"
	if day != "" {
		at += "?day=" + string(day)
	}
	c.Redirect(http.StatusSeeOther, at)
}

// cancelPlan stops the plan that is being computed, or dismisses the failure of the last.
func (p *pages) cancelPlan(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return
	}
	err := p.StopWork(c, models.JobPlan)
	if err != nil && models.CodeOf(err) != models.CodeNotFound { // it has just ended
		p.renderError(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/weekend")
}

// again is the order that plans a day again: of the days of the latest plan if it has the day, else of the day alone. Days that are over
// are left out.
func (p *pages) again(ctx context.Context, site models.Site, day models.Date) (models.PlanOrder, error) {
	plan, err := p.Store.LatestPlanAlone(ctx, site.Code)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return models.PlanOrder{}, err
	}
	from, end := plan.From, plan.From.AddDays(plan.Days)
	if plan.Revision == 0 || day < from || day >= end {
		from, end = day, day.AddDays(1)
	}
	from = min(max(from, site.ServiceDayOf(p.Now())), end.AddDays(-1))
	return models.PlanOrder{From: from, Days: from.DaysUntil(end)}, nil
}
