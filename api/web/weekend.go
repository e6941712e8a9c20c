package web

import (
	"cmp"
	"context"
	"html/template"
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/models"

	"hotday/planner/facts"
	"hotday/planner/sheet"
)

// Days per chart and chart widths in px: for a laptop and for a phone.
const (
	wideDays, wideWidth     = 3, 1360
	narrowDays, narrowWidth = 1, 360
)

// firstPlanDays is the number of days of the first plan: a weekend.
const firstPlanDays = 2

type weekendView struct {
	head
	HasPlan  bool
	HasSales bool
	Heading  string
	Unsaved  string // why nothing can be saved at the moment; "": it can
	Tabs     []dayTab
	Headline string
	Figures  []keyFigure
	Best     *bestFix // nil: there is none
	Chosen   models.Date
	// ChosenDay is Chosen's weekday, High its hottest hour in TempUnit, "" without a forecast.
	ChosenDay, High, TempUnit string
	HighByHand                bool   // High is the manager's own
	Lead                      string // the plan in words
	Status                    []string
	Differs                   []string // differences from the published plan
	More                      int      // number of differences not listed
	Revision                  int
	Event                     int64 // ID of the last live event before rendering; the script streams from there
	Publish                   bool  // the plan can be published
	Proposal                  bool  // another plan is published: publish this one or set it aside
	From                      models.Date
	Days                      int
	Wide                      []template.HTML
	Narrow                    []template.HTML
	Lanes                     struct{ Wide, Narrow []template.HTML } // of equipment
	Before                    beforeView
	Warnings                  []warningView
	StopSelling               []models.StopSelling
	Open                      []warningView // open warnings that are not in the plan
	Choices                   []choiceLine
	Demand                    []demandDay
	First                     []demandDay // without a plan: fields for the expected demand
	Record                    []string    // accuracy of the forecast and of the manager's numbers
	Work                      []workView  // long-running jobs
	Planning                  *planningView
	Wrong                     string // what was wrong with what the page was sent
	Tables                    []table
	Cautions                  []string
	Papers                    []printLinks // published sheets of these days
	Events                    []eventLine  // on these days
	Quick                     *quickEvent

	now   time.Time
	stale []models.Span // of events that the plan does not know, or knows and are gone
}

// weekendState is the page's data, from one consistent read.
type weekendState struct {
	plan        models.Plan
	request     models.PlanRequest
	hasPlan     bool
	hasSales    bool
	expected    []models.ExpectedDemand // the manager's current numbers
	published   models.Plan             // the published plan; revision 0: none for these days
	publishedAt time.Time
	setAside    int                  // revision of the latest plan if it was set aside; plan is then the published one
	sheets      []models.Date        // dates with a published sheet
	days        []models.Date        // planned or published, from today on
	event       int64                // ID of the last live event
	open        []models.OpenWarning // open now
	past        map[facts.ComparedRow][]facts.ComparableDay
	record      models.TrackRecord // From is nil before the first nightly evaluation
	work        []models.Progress
	events      models.SiteEvents    // from the day before the plan to the day after it
	weather     []models.WeatherHour // as known now, of the plan's days
	issuedAt    *time.Time           // of that weather's newest forecast; nil: there is none
	highs       []models.WeatherHigh // that the manager entered, of the plan's days
}

func (p *pages) weekend(c *gin.Context) {
	if h, setup, ok := p.enter(c, models.ScopeRead, "weekend"); ok {
		p.renderWeekend(c, http.StatusOK, h, setup, "")
	}
}

// renderWeekend renders the page, with what was wrong with what it was sent.
func (p *pages) renderWeekend(c *gin.Context, status int, h head, setup models.Setup, wrong string) {
	h.Scripts = []string{"weekend.js"}
	var st weekendState
	chosen := models.Date(c.Query("day"))
	err := p.Store.Read(c.Request.Context(), func(s models.Store) (err error) {
		st, err = readWeekend(c.Request.Context(), s, setup.Site, p.Now(), chosen)
		return err
	})
	if err != nil {
		p.renderError(c, err)
		return
	}
	v := p.weekendView(h, setup, st, chosen)
	v.Wrong, v.Unsaved = wrong, unsaved(h.voice, p.Store.StorageState().Problem)
	p.render(c, status, "weekend", v)
}

// unsaved says why nothing can be saved, "" if it can.
func unsaved(v voice, problem string) string {
	switch problem {
	case "":
		return ""
	case models.StorageFull:
		return v.Say("weekend.storage_full")
	case models.StorageLocked:
		return v.Say("weekend.storage_locked")
	case models.StorageUnreachable:
		return v.Say("weekend.storage_unreachable")
	}
	return v.Say("weekend.storage_failing")
}

// readWeekend reads the data of the page. Where the latest plan does not have the chosen day, the plan is that of the day's published sheet.
func readWeekend(ctx context.Context, s models.Store, site models.Site, now time.Time, chosen models.Date) (st weekendState, err error) {
	last, err := s.CountsReceivedAt(ctx, site.Code)
	if err != nil {
		return st, err
	}
	st.hasSales = !last.IsZero()
	if st.event, err = s.LastEventID(ctx, site.Code); err != nil {
		return st, err
	}
	if st.work, err = s.Progress(ctx, site.Code); err != nil {
		return st, err
	}
	st.plan, st.request, err = s.LatestPlan(ctx, site.Code)
	if models.CodeOf(err) == models.CodeNotFound {
		from := nextWeekend(site, now)
		st.expected, err = s.ExpectedDemand(ctx, site.Code, from, from.AddDays(firstPlanDays))
		return st, err
	}
	if err != nil {
		return st, err
	}
	st.hasPlan = true
	if err := st.chooseDay(ctx, s, site, now, chosen); err != nil {
		return st, err
	}
	if err := st.readPublished(ctx, s, site); err != nil {
		return st, err
	}
	st.request.Site.Units, st.request.Site.Language = site.Units, site.Language // current units and language, not those at planning time
	end := st.plan.From.AddDays(st.plan.Days)
	if st.expected, err = s.ExpectedDemand(ctx, site.Code, st.plan.From, end); err != nil {
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
	loc := site.Location()
	rows, err := s.Weather(ctx, site.Code, st.plan.From.At(0, loc), end.At(0, loc), now)
	if err != nil {
		return st, err
	}
	st.addWeather(rows)
	if st.highs, err = s.WeatherHighs(ctx, site.Code, st.plan.From, end); err != nil {
		return st, err
	}
	if st.events, err = siteEventsBetween(ctx, s, site.Code, st.plan.From.AddDays(-1).At(0, loc), end.AddDays(1).At(0, loc)); err != nil {
		return st, err
	}
	return st, nil
}

// stripDays is how far ahead the strip looks for published days beyond the latest plan.
const stripDays = 14

// chooseDay lists the days of the strip and, where the latest plan does not have the chosen one, takes the plan of its published sheet.
func (st *weekendState) chooseDay(ctx context.Context, s models.Store, site models.Site, now time.Time, chosen models.Date) error {
	today := site.ServiceDayOf(now)
	sheets, err := s.Sheets(ctx, site.Code, today, today.AddDays(stripDays))
	if err != nil {
		return err
	}
	end := st.plan.From.AddDays(st.plan.Days)
	for d := st.plan.From; d < end; d = d.AddDays(1) {
		st.days = append(st.days, d)
	}
	for _, sheet := range sheets {
		if !slices.Contains(st.days, sheet.Date) && len(site.OpenSpans(sheet.Date)) > 0 {
			st.days = append(st.days, sheet.Date)
		}
		if sheet.Date == chosen && (chosen < st.plan.From || chosen >= end) {
			if st.plan, st.request, err = s.Plan(ctx, site.Code, sheet.Revision); err != nil {
				return err
			}
		}
	}
	slices.Sort(st.days)
	return nil
}

// readPublished reads the published plan for the days of the latest plan. If the latest plan was set aside, the page shows the
// published one instead.
func (st *weekendState) readPublished(ctx context.Context, s models.Store, site models.Site) error {
	sheets, err := s.Sheets(ctx, site.Code, st.plan.From, st.plan.From.AddDays(st.plan.Days))
	if err != nil {
		return err
	}
	revision := 0
	for _, sheet := range sheets {
		st.sheets = append(st.sheets, sheet.Date)
		if sheet.Revision > revision {
			revision, st.publishedAt = sheet.Revision, sheet.PublishedAt
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
		st.setAside = st.plan.Revision
		st.plan, st.request = st.published, request
	}
	return nil
}

func (p *pages) weekendView(h head, setup models.Setup, st weekendState, chosen models.Date) weekendView {
	now, site := p.Now(), setup.Site
	v := weekendView{head: h, now: now, HasPlan: st.hasPlan, HasSales: st.hasSales, Event: st.event}
	v.From, v.Days = nextWeekend(site, now), firstPlanDays
	if v.Planning = v.planning(st.work); v.Planning != nil && v.Planning.Problem == "" {
		v.Refresh = planningRefresh
	}
	if !st.hasPlan {
		v.Heading = h.voice.Say("weekend.no_plan")
		v.First = emptyDemandDays(setup, st.expected, v.From, v.Days)
		return v
	}
	plan, r := st.plan, st.request
	if last := plan.From.AddDays(plan.Days - 1); last >= site.ServiceDayOf(now) {
		v.From, v.Days = plan.From, plan.Days
	}
	q := h.voice
	v.Heading = formatDays(plan, q)
	v.Lead = plan.Summary.Text
	v.Revision = plan.Revision
	v.addStatus(st, site, now, p.Changes)
	v.addEvents(st, setup, now)
	v.addFirstScreen(st, setup, chosen)
	if h.MayManage {
		v.Quick = quickEventOf(h, site, now, v.Chosen, plan.From.AddDays(plan.Days))
	}
	v.addPrintLinks(st)
	v.drawCharts(r, plan, now)
	v.Warnings, v.StopSelling = warningViews(r, plan), plan.OffSale
	v.Open = openWarningViews(st.open, plan.Warnings, q)
	v.Demand = demandDays(st)
	v.Record = accuracyText(st.record, q, drinkNames(r.Drinks))
	v.Work = workViews(st.work, q, func(p models.Progress) bool { return p.Alive(now) && p.Kind == models.JobRefit })
	v.Tables = tables(r, plan)
	v.Cautions = plan.Cautions
	for i := range plan.Choices {
		c := &plan.Choices[i]
		v.Choices = append(v.Choices, choiceLine{q.At(c.LookAt), sheet.LookText(c, r.Setup)})
	}
	return v
}

// choiceLine is a batch left to the day.
type choiceLine struct{ When, Say string }

// beforeView has the charts of the days before the eve of the planned ones, folded away, since little happens on them.
type beforeView struct {
	Name   string
	Wide   []template.HTML
	Narrow []template.HTML
}

func (v *weekendView) drawCharts(r models.PlanRequest, plan models.Plan, now time.Time) {
	draw := func(days int, width float64, narrow bool, charts, before, lanes *[]template.HTML) {
		frames := picture.Frames(r, plan, days, width, narrow)
		if narrow { // the chosen day first
			slices.SortStableFunc(frames, func(a, b picture.Frame) int { return v.apart(a) - v.apart(b) })
		}
		for _, f := range frames {
			f.Now = now
			if !f.Before {
				*charts = append(*charts, picture.Weekend(r, plan, f))
				*lanes = append(*lanes, picture.Lanes(r, plan, f))
				continue
			}
			v.Before.Name = cmp.Or(v.Before.Name, v.voice.Day(f.From))
			*before = append(*before, picture.Weekend(r, plan, f), picture.Lanes(r, plan, f))
		}
	}
	draw(wideDays, wideWidth, false, &v.Wide, &v.Before.Wide, &v.Lanes.Wide)
	draw(narrowDays, narrowWidth, true, &v.Narrow, &v.Before.Narrow, &v.Lanes.Narrow)
}

// apart is 0 for the frame that the chosen day is in, else 1.
func (v *weekendView) apart(f picture.Frame) int {
	if noon := noonOf(v.Chosen, v.voice.Location()); !noon.Before(f.From) && noon.Before(f.To) {
		return 0
	}
	return 1
}

// nextWeekend returns today on a Saturday or Sunday, else the coming Saturday.
func nextWeekend(site models.Site, now time.Time) models.Date {
	d := site.ServiceDayOf(now)
	for d.Weekday() != time.Saturday && d.Weekday() != time.Sunday {
		d = d.AddDays(1)
	}
	return d
}

func formatDays(plan models.Plan, q voice) string {
	loc := q.Location()
	first := plan.From.At(720, loc)
	if plan.Days < 2 {
		return q.Day(first)
	}
	return q.Days(first, plan.From.AddDays(plan.Days-1).At(720, loc))
}

// printLinks is a published sheet to print.
type printLinks struct {
	Date models.Date
	Day  string
}

func (v *weekendView) addPrintLinks(st weekendState) {
	for _, d := range st.sheets {
		v.Papers = append(v.Papers, printLinks{d, v.voice.Day(d.At(720, v.voice.Location()))})
	}
}

// maxChangesShown is the number of differences listed; the rest are only counted.
const maxChangesShown = 8

// addStatus adds which plan this is and how it relates to the published one.
func (v *weekendView) addStatus(st weekendState, site models.Site, now time.Time, changes func(a, b models.Plan, s models.Setup) []models.Change) {
	q := v.voice
	made := q.Say("weekend.status.made", "revision", st.plan.Revision, "when", q.Near(st.plan.ComputedAt, now))
	switch {
	case st.published.Revision == 0:
		v.Publish = true
		v.Status = append(v.Status, made, q.Say("weekend.status.no_sheet"))
	case st.published.Revision == st.plan.Revision:
		v.Status = append(v.Status, made, q.Say("weekend.status.works_from", "when", q.Near(st.publishedAt, now)))
	default:
		v.Publish, v.Proposal = true, true
		v.Status = append(v.Status, made, q.Say("weekend.status.still", "revision", st.published.Revision, "when", q.Near(st.publishedAt, now)))
		for _, ch := range changes(st.published, st.plan, st.request.Setup) {
			v.Differs = append(v.Differs, ch.Text)
		}
		if n := len(v.Differs); n > maxChangesShown {
			v.Differs, v.More = v.Differs[:maxChangesShown], n-maxChangesShown
		}
	}
	if st.setAside > 0 {
		v.Status = append(v.Status, q.Say("weekend.status.aside", "revision", st.setAside))
	}
	if age, old, ok := st.forecastAge(now); ok {
		key := "weekend.status.weather"
		if old {
			key = "weekend.status.weather_old"
		}
		v.Status = append(v.Status, q.Say(key, "age", q.Age(age)))
	}
	if credit := creditOf(site, q); credit != "" && len(st.request.Weather) > 0 {
		v.Status = append(v.Status, credit)
	}
	if c := st.request.Ice.CountedAt; c != nil {
		v.Status = append(v.Status, q.Say("weekend.status.counted", "when", q.Near(*c, now)))
	}
}
