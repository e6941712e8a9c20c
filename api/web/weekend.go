package web

import (
	"context"
	"html/template"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/models"

	"hotday/planner/facts"
)

// Sizes of the pictures, px: a laptop's whole width for up to three days, a phone's for one.
const (
	wideDays, wideWidth     = 3, 1360
	narrowDays, narrowWidth = 1, 360
)

// firstPlanDays is how many days the page offers to plan where there is no plan: a weekend.
const firstPlanDays = 2

// weekendView is what the page Weekend shows.
type weekendView struct {
	head
	HasPlan  bool
	HasSales bool
	Heading  string
	Lead     string
	Status   []string
	Differs  []string // from what the kitchen has
	More     int      // differences beyond those
	Revision int
	Event    int64 // the last that the page knows of: live ones are asked for from there
	Publish  bool  // there is something to publish
	Proposal bool  // it waits beside a sheet that stands: to be taken, or put aside
	From     models.Date
	Days     int
	Wide     []template.HTML
	Narrow   []template.HTML
	Before   beforeView
	Warnings []warningView
	Open     []warningView // of the day as it goes, that the plan does not tell
	Demand   []demandDay
	First    []demandDay // before there is a plan: what to expect, to be typed
	Record   []string    // how well the forecast and the manager's word have done
	Work     []workView  // under way
	Tables   []table
	Cautions []string
	Papers   []paperLinks // the published sheets of these days
	Known    []knownLine  // of these days
}

// weekendState is what is read from the store for the page, at one moment.
type weekendState struct {
	plan      models.Plan
	request   models.PlanRequest
	hasPlan   bool
	hasSales  bool
	words     []models.ExpectedDemand // the manager's, as stored now
	published models.Plan             // what the kitchen works from; revision 0: nothing for these days
	at        time.Time               // published
	aside     int                     // the newest plan, where it was put aside and this is the one that the kitchen works from
	sheets    []models.Date           // that are published
	event     int64                   // the last live event that the page knows of
	open      []models.OpenWarning    // of the day as it goes
	past      map[facts.ComparedRow][]facts.ComparableDay
	record    models.TrackRecord // its From is empty where no night has judged yet
	work      []models.Progress
	known     models.Known // of the plan's days and the eve
}

// weekend shows the latest plan.
func (p *pages) weekend(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeRead, "weekend")
	if !ok {
		return
	}
	h.Scripts = []string{"weekend.js"}
	var st weekendState
	err := p.Store.Read(c.Request.Context(), func(s models.Store) (err error) {
		st, err = readWeekend(c.Request.Context(), s, setup.Site, p.Now())
		return err
	})
	if err != nil {
		p.trouble(c, err)
		return
	}
	p.render(c, http.StatusOK, "weekend", p.weekendView(h, setup, st))
}

func readWeekend(ctx context.Context, s models.Store, site models.Site, now time.Time) (st weekendState, err error) {
	last, err := s.LastCountAt(ctx, site.Code)
	if err != nil {
		return st, err
	}
	st.hasSales = !last.IsZero()
	if st.event, err = s.LastEventID(ctx, site.Code); err != nil {
		return st, err
	}
	st.plan, st.request, err = s.LatestPlan(ctx, site.Code)
	if models.CodeOf(err) == models.CodeNotFound {
		from := nextWeekend(site, now)
		st.words, err = s.ExpectedDemand(ctx, site.Code, from, from.AddDays(firstPlanDays))
		return st, err
	}
	if err != nil {
		return st, err
	}
	st.hasPlan = true
	if err := st.readPublished(ctx, s, site); err != nil {
		return st, err
	}
	st.request.Site.Units, st.request.Site.Language = site.Units, site.Language // as the site reads now, not as it did when planned
	end := st.plan.From.AddDays(st.plan.Days)
	if st.words, err = s.ExpectedDemand(ctx, site.Code, st.plan.From, end); err != nil {
		return st, err
	}
	if st.past, err = facts.ComparableDays(ctx, s, st.request, now); err != nil {
		return st, err
	}
	if st.open, err = s.OpenWarnings(ctx, site.Code); err != nil {
		return st, err
	}
	if st.record, _, err = s.TrackRecord(ctx, site.Code); err != nil {
		return st, err
	}
	if st.work, err = s.Progress(ctx, site.Code); err != nil {
		return st, err
	}
	loc := site.Location()
	if st.known, err = knownBetween(ctx, s, site.Code, st.plan.From.AddDays(-1).At(0, loc), end.AddDays(1).At(0, loc)); err != nil {
		return st, err
	}
	return st, nil
}

// readPublished finds what the kitchen works from on the days of the latest plan. Where that plan was put aside, the page shows the
// kitchen's instead.
func (st *weekendState) readPublished(ctx context.Context, s models.Store, site models.Site) error {
	sheets, err := s.Sheets(ctx, site.Code, st.plan.From, st.plan.From.AddDays(st.plan.Days))
	if err != nil {
		return err
	}
	revision := 0
	for _, sheet := range sheets {
		st.sheets = append(st.sheets, sheet.Date)
		if sheet.Revision > revision {
			revision, st.at = sheet.Revision, sheet.PublishedAt
		}
	}
	if revision == 0 || revision == st.plan.Revision {
		st.published.Revision = revision
		return nil
	}
	var request models.PlanRequest
	if st.published, request, err = s.Plan(ctx, site.Code, revision); err != nil {
		return err
	}
	heads, err := s.Plans(ctx, site.Code, models.Page{Limit: 1})
	if err != nil {
		return err
	}
	if len(heads.Rows) > 0 && heads.Rows[0].Revision == st.plan.Revision && heads.Rows[0].SetAsideAt != nil {
		st.aside = st.plan.Revision
		st.plan, st.request = st.published, request
	}
	return nil
}

func (p *pages) weekendView(h head, setup models.Setup, st weekendState) weekendView {
	now, site := p.Now(), setup.Site
	v := weekendView{head: h, HasPlan: st.hasPlan, HasSales: st.hasSales, Event: st.event}
	v.From, v.Days = nextWeekend(site, now), firstPlanDays
	if !st.hasPlan {
		v.Heading = h.voice.Say("weekend.no_plan")
		v.First = firstDays(setup, st.words, v.From, v.Days)
		return v
	}
	plan, r := st.plan, st.request
	if last := plan.From.AddDays(plan.Days - 1); last >= site.ServiceDayOf(now) {
		v.From, v.Days = plan.From, plan.Days
	}
	q := h.voice
	v.Heading = daysInWords(plan, q)
	v.Lead = plan.Summary.Text
	v.Revision = plan.Revision
	v.status(st, now, p.Changes)
	v.known(st, setup, now)
	v.papers(st)
	v.draw(r, plan, now)
	v.Warnings = warningViews(r, plan)
	v.Open = openViews(st.open, plan.Warnings, q)
	v.Demand = demandDays(st)
	v.Record = recordWords(st.record, q, drinkNames(r.Drinks))
	v.Work = workViews(st.work, q, func(p models.Progress) bool { return p.Alive(now) && p.Kind == models.JobRefit })
	v.Tables = tables(r, plan)
	v.Cautions = plan.Cautions
	return v
}

// beforeView is the pictures of the days before the eve of the planned ones: folded away, for little is done on them.
type beforeView struct {
	Name   string
	Wide   []template.HTML
	Narrow []template.HTML
}

func (v *weekendView) draw(r models.PlanRequest, plan models.Plan, now time.Time) {
	for _, f := range picture.Frames(r, plan, wideDays, wideWidth, false) {
		f.Now = now
		if !f.Before {
			v.Wide = append(v.Wide, picture.Weekend(r, plan, f))
			continue
		}
		if v.Before.Name == "" {
			v.Before.Name = v.voice.Day(f.From)
		}
		v.Before.Wide = append(v.Before.Wide, picture.Weekend(r, plan, f))
	}
	for _, f := range picture.Frames(r, plan, narrowDays, narrowWidth, true) {
		f.Now = now
		if f.Before {
			v.Before.Narrow = append(v.Before.Narrow, picture.Weekend(r, plan, f))
		} else {
			v.Narrow = append(v.Narrow, picture.Weekend(r, plan, f))
		}
	}
}

// nextWeekend is the Saturday of this weekend, or of the next once Sunday is over; on Sunday it is Sunday.
func nextWeekend(site models.Site, now time.Time) models.Date {
	d := site.ServiceDayOf(now)
	for d.Weekday() != time.Saturday && d.Weekday() != time.Sunday {
		d = d.AddDays(1)
	}
	return d
}

func daysInWords(plan models.Plan, q voice) string {
	loc := q.Location()
	first := plan.From.At(720, loc)
	if plan.Days < 2 {
		return q.Day(first)
	}
	return q.Days(first, plan.From.AddDays(plan.Days-1).At(720, loc))
}

// paperLinks are the day of a published sheet and its papers.
type paperLinks struct {
	Date models.Date
	Day  string
}

func (v *weekendView) papers(st weekendState) {
	for _, d := range st.sheets {
		v.Papers = append(v.Papers, paperLinks{d, v.voice.Day(d.At(720, v.voice.Location()))})
	}
}

// mostChanges is how many differences are told before the rest is only counted.
const mostChanges = 8

// status says which plan this is, and how it stands to what the kitchen has.
func (v *weekendView) status(st weekendState, now time.Time, changes func(a, b models.Plan, s models.Setup) []models.Change) {
	q := v.voice
	made := q.Say("weekend.status.made", "revision", st.plan.Revision, "when", q.Near(st.plan.ComputedAt, now))
	switch {
	case st.published.Revision == 0:
		v.Publish = true
		v.Status = append(v.Status, made, q.Say("weekend.status.no_sheet"))
	case st.published.Revision == st.plan.Revision:
		v.Status = append(v.Status, made, q.Say("weekend.status.works_from", "when", q.Near(st.at, now)))
	default:
		v.Publish, v.Proposal = true, true
		v.Status = append(v.Status, made, q.Say("weekend.status.still", "revision", st.published.Revision, "when", q.Near(st.at, now)))
		for _, ch := range changes(st.published, st.plan, st.request.Setup) {
			v.Differs = append(v.Differs, ch.Text)
		}
		if n := len(v.Differs); n > mostChanges {
			v.Differs, v.More = v.Differs[:mostChanges], n-mostChanges
		}
	}
	if st.aside > 0 {
		v.Status = append(v.Status, q.Say("weekend.status.aside", "revision", st.aside))
	}
	if st.request.WeatherIssuedAt != nil {
		v.Status = append(v.Status, q.Say("weekend.status.weather", "when", q.Near(*st.request.WeatherIssuedAt, now)))
	}
	if c := st.request.Ice.CountedAt; c != nil {
		v.Status = append(v.Status, q.Say("weekend.status.counted", "when", q.Near(*c, now)))
	}
}
