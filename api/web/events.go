package web

import (
	"context"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

const (
	aheadDays = 14 // listed as coming
	laterDays = 365
	pastDays  = 14 // listed for corrections
)

// eventsView lists the site's events: events, closures, outages, unattended times, off-sale periods and hours of single dates, with the
// differences from the plan.
type eventsView struct {
	head
	Coming     []eventLine
	Later      []eventLine
	Past       []eventLine
	Kinds      []eventKind
	Holidays   []int // years whose public holidays can be added; none: the site's country is not known
	Saved      bool
	Made       string      // rows of the event just saved, as JSON; "": something else was saved
	Stale      string      // which plan is out of date
	OnlyInPlan []eventLine // assumed by that plan but since deleted or changed
	Wrong      string
	Quick      *quickEvent
}

type eventLine struct {
	Key, When, Say string
	Change         string // URL of the form
	NotInPlan      bool   // added or changed since the plan was made
	Hours          bool   // opening hours, edited in the set-up
	Rows           string // as stored, as JSON; "" for opening hours
}

type eventKind struct{ Kind, Name string }

// eventFormView is the form for one kind.
type eventFormView struct {
	head
	Kind, Name, Lead string
	Was              string // key of the item being changed; "": new
	WasRows          string // as stored, as JSON
	Plans            bool   // it changes plans
	Fields           fieldView
	Wrong            []fieldView
	General          []models.FieldError
}

func (p *pages) events(c *gin.Context) {
	if h, setup, ok := p.enter(c, models.ScopeManage, "known"); ok {
		p.renderEvents(c, http.StatusOK, h, setup, nil)
	}
}

// wrong shows what was wrong above the list.
func wrong(text string) func(*eventsView) { return func(v *eventsView) { v.Wrong = text } }

// renderEvents renders the page as changed; nil: as it is.
func (p *pages) renderEvents(c *gin.Context, status int, h head, setup models.Setup, change func(*eventsView)) {
	now := p.Now()
	stored, err := p.readSiteEvents(c, setup, now)
	if err != nil {
		p.renderError(c, err)
		return
	}
	plan, request, err := p.Store.LatestPlan(c.Request.Context(), setup.Site.Code)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		p.renderError(c, err)
		return
	}
	h.Scripts = []string{"events.js"}
	v := eventsView{head: h, Saved: c.Query("saved") != "" && change == nil}
	v.Title = h.voice.Say("known.title") + " · " + siteName(setup.Site)
	items := eventItems(stored, setup, h.voice)
	judged := compareWithPlan(items, setup, plan, request, now, h.voice)
	loc, at := setup.Site.Location(), "/s/"+url.PathEscape(setup.Site.Code)
	today := setup.Site.ServiceDayOf(now)
	for _, i := range items {
		line := eventLine{Key: i.key(), When: formatSpan(i, h.voice), Say: i.sentence(now, h.voice), NotInPlan: judged.notInPlan[i.key()], Hours: i.kind == kindHours,
			Change: at + "/known/" + i.kind + "?of=" + url.QueryEscape(i.key())}
		if line.Hours {
			line.Change = at + "/setup/hours"
		} else {
			line.Rows = i.json()
		}
		if v.Saved && line.Key == c.Query("saved") {
			v.Made = line.Rows
		}
		switch {
		case !i.open && !i.to.After(now):
			if i.to.After(today.AddDays(-pastDays).At(0, loc)) {
				v.Past = append(v.Past, line)
			}
		case i.from.Before(today.AddDays(aheadDays).At(0, loc)):
			v.Coming = append(v.Coming, line)
		default:
			v.Later = append(v.Later, line)
		}
	}
	for _, i := range judged.onlyInPlan {
		v.OnlyInPlan = append(v.OnlyInPlan, eventLine{When: formatSpan(i, h.voice), Say: i.text})
	}
	if len(judged.notInPlan)+len(v.OnlyInPlan) > 0 {
		v.Stale = h.voice.Say("known.stale", "revision", plan.Revision, "when", h.voice.Near(plan.ComputedAt, now))
	}
	for _, k := range eventKinds {
		v.Kinds = append(v.Kinds, eventKind{k, h.voice.Say("known.kind." + k)})
	}
	if setup.Site.Country != "" {
		year := now.In(loc).Year()
		v.Holidays = []int{year, year + 1}
	}
	var end models.Date
	chosen := nextWeekend(setup.Site, now)
	if plan.Revision > 0 {
		chosen, end = max(plan.From, today), plan.From.AddDays(plan.Days)
	}
	v.Quick = quickEventOf(h, setup.Site, now, chosen, end)
	if change != nil {
		change(&v)
	}
	p.render(c, status, "known", v)
}

// postHolidays adds the public holidays of a year to the site's calendar.
func (p *pages) postHolidays(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "known")
	if !ok {
		return
	}
	year, err := strconv.Atoi(c.PostForm("year"))
	if err != nil {
		p.renderEvents(c, http.StatusUnprocessableEntity, h, setup, wrong(h.voice.Say("known.holidays.unknown")))
		return
	}
	switch _, _, err := p.AddHolidays(c, year); models.CodeOf(err) {
	case "":
		c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/known?saved=1")
	case models.CodeInvalid:
		p.renderEvents(c, http.StatusUnprocessableEntity, h, setup, wrong(h.voice.Say("known.holidays.unknown")))
	default:
		p.renderError(c, err)
	}
}

// readSiteEvents reads the site's events around now.
func (p *pages) readSiteEvents(c *gin.Context, setup models.Setup, now time.Time) (k models.SiteEvents, err error) {
	ctx, site, loc := c.Request.Context(), setup.Site.Code, setup.Site.Location()
	today := setup.Site.ServiceDayOf(now)
	from, to := today.AddDays(-pastDays).At(0, loc), today.AddDays(laterDays).At(0, loc)
	err = p.Store.Read(ctx, func(s models.Store) (err error) {
		k, err = siteEventsBetween(ctx, s, site, from, to)
		return err
	})
	return k, err
}

func siteEventsBetween(ctx context.Context, s models.Store, site string, from, to time.Time) (k models.SiteEvents, err error) {
	if k.Events, err = s.Events(ctx, site, from, to); err != nil {
		return k, err
	}
	if k.Outages, err = s.Outages(ctx, site, from, to); err != nil {
		return k, err
	}
	if k.Attention, err = s.Attention(ctx, site, from, to); err != nil {
		return k, err
	}
	k.OffSale, err = s.OffSale(ctx, site, from, to)
	return k, err
}

// planDiff is the difference between the site's events and a plan's inputs.
type planDiff struct {
	notInPlan  map[string]bool // by key
	onlyInPlan []eventItem
}

// compareWithPlan compares the events with those a plan was made from, over its remaining days.
func compareWithPlan(items []eventItem, setup models.Setup, plan models.Plan, request models.PlanRequest, now time.Time, v voice) planDiff {
	out := planDiff{notInPlan: map[string]bool{}}
	if plan.Revision == 0 {
		return out
	}
	begin, end := plan.From.At(0, setup.Site.Location()), setup.Site.DayEnd(plan.From.AddDays(plan.Days-1))
	if plan.ComputedAt.Before(begin) {
		begin = plan.ComputedAt // brewing and ice making start the day before
	}
	if begin.Before(now) {
		begin = now
	}
	relevant := func(i eventItem) bool {
		return i.affectsPlan(setup) && i.from.Before(end) && (i.open || i.to.After(begin))
	}
	then := request.Setup
	then.Site.Units, then.Site.Language = setup.Site.Units, setup.Site.Language
	before := eventItems(models.SiteEvents{Events: request.Events, Outages: request.Outages, Attention: request.Attention}, then, v)
	in := func(list []eventItem, i eventItem) bool {
		return slices.ContainsFunc(list, func(x eventItem) bool { return x.fingerprint() == i.fingerprint() })
	}
	for _, i := range items {
		if relevant(i) && !in(before, i) {
			out.notInPlan[i.key()] = true
		}
	}
	for _, i := range before {
		if relevant(i) && !in(items, i) {
			out.onlyInPlan = append(out.onlyInPlan, i)
		}
	}
	return out
}

// addEvents adds the events on the plan's days, and a status line if the plan is out of date.
func (v *weekendView) addEvents(st weekendState, setup models.Setup, now time.Time) {
	q := v.voice
	items := eventItems(st.events, setup, q)
	judged := compareWithPlan(items, setup, st.plan, st.request, now, q)
	begin, end := st.plan.From.At(0, q.Location()), setup.Site.DayEnd(st.plan.From.AddDays(st.plan.Days-1))
	for _, i := range items {
		notInPlan := judged.notInPlan[i.key()]
		if notInPlan || i.from.Before(end) && (i.open || i.to.After(begin)) {
			v.Events = append(v.Events, eventLine{When: formatSpan(i, q), Say: i.sentence(now, q), NotInPlan: notInPlan})
		}
		if notInPlan {
			v.stale = append(v.stale, i.span(end))
		}
	}
	for _, i := range judged.onlyInPlan {
		v.stale = append(v.stale, i.span(end))
	}
	if len(judged.notInPlan)+len(judged.onlyInPlan) > 0 {
		v.Status = append(v.Status, q.Say("known.status"))
	}
}

// deleteEvent deletes the item of a line.
func (p *pages) deleteEvent(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "known")
	if !ok {
		return
	}
	item, err := p.findEventItem(c, setup, h.voice, c.PostForm("back"))
	if err == nil {
		err = p.SaveSiteEvents(c, item.rows(), models.SiteEvents{})
	}
	switch models.CodeOf(err) {
	case "":
		c.Redirect(http.StatusSeeOther, c.Request.URL.Path+"?saved=1")
	case models.CodeNotFound:
		p.renderEvents(c, http.StatusNotFound, h, setup, wrong(h.voice.Say("known.gone")))
	default:
		p.renderError(c, err)
	}
}

// postEventUndo undoes what was saved or deleted last: it deletes the rows in the form field "removed" and stores those in "added".
func (p *pages) postEventUndo(c *gin.Context) {
	if _, _, ok := p.enter(c, models.ScopeManage, "known"); !ok {
		return
	}
	var removed, added models.SiteEvents
	for name, rows := range map[string]*models.SiteEvents{"removed": &removed, "added": &added} {
		if err := json.Unmarshal([]byte(c.PostForm(name)), rows); err != nil {
			c.Status(http.StatusBadRequest)
			return
		}
	}
	if err := p.SaveSiteEvents(c, removed, added); err != nil {
		c.Status(models.CodeOf(err).Status())
		return
	}
	c.Status(http.StatusNoContent)
}

// findEventItem returns the item with a key.
func (p *pages) findEventItem(c *gin.Context, setup models.Setup, v voice, key string) (eventItem, error) {
	stored, err := p.readSiteEvents(c, setup, p.Now())
	if err != nil {
		return eventItem{}, err
	}
	for _, i := range eventItems(stored, setup, v) {
		if i.kind != kindHours && i.key() == key {
			return i, nil
		}
	}
	return eventItem{}, models.Errorf(models.CodeNotFound, "%s", v.Say("known.gone"))
}

// enterEventForm is enter for the form of a kind; was is the item being changed, nil for a new one.
func (p *pages) enterEventForm(c *gin.Context, key string) (k eventEditor, h head, was *eventItem, ok bool) {
	h, setup, ok := p.enter(c, models.ScopeManage, "known")
	if !ok {
		return k, h, nil, false
	}
	k = eventEditor{kind: c.Param("kind"), setup: setup, voice: h.voice, now: p.Now()}
	var err error
	if !slices.Contains(eventKinds, k.kind) {
		err = models.Errorf(models.CodeNotFound, "there is no such page")
	} else if key != "" {
		var item eventItem
		if item, err = p.findEventItem(c, setup, h.voice, key); err == nil && item.kind != k.kind {
			err = models.Errorf(models.CodeNotFound, "%s", h.voice.Say("known.gone"))
		}
		was = &item
	}
	if models.CodeOf(err) == models.CodeNotFound && key != "" {
		p.renderEvents(c, http.StatusNotFound, h, setup, wrong(h.voice.Say("known.gone")))
		return k, h, nil, false
	}
	if err != nil {
		p.renderError(c, err)
		return k, h, nil, false
	}
	return k, h, was, true
}

// eventForm shows the form of a kind, filled in if ?of= is the key of an item.
func (p *pages) eventForm(c *gin.Context) {
	if k, h, was, ok := p.enterEventForm(c, c.Query("of")); ok {
		p.renderEventForm(c, http.StatusOK, k, h, was, eventInput{doc: k.document(was)})
	}
}

func (p *pages) renderEventForm(c *gin.Context, status int, k eventEditor, h head, was *eventItem, t eventInput) {
	h.Scripts = []string{"events.js"}
	v := eventFormView{head: h, Kind: k.kind, Name: h.voice.Say("known.kind." + k.kind), Plans: k.kind != kindOffSale}
	v.WasRows = eventItem{}.json()
	if was != nil {
		v.Was, v.WasRows = was.key(), was.json()
	}
	v.Title = v.Name + " · " + siteName(k.setup.Site)
	if lead := "known.lead." + k.kind; h.voice.Has(lead) {
		v.Lead = h.voice.Say(lead, "usual", k.setup.Site.StartsPerSlot, "min", k.setup.Site.SlotMin)
	}
	v.Fields, v.Wrong, v.General = k.form(t.doc, t.raw, t.wrong)
	p.render(c, status, "knownform", v)
}

// postEvent stores the submitted item in place of the one being changed.
func (p *pages) postEvent(c *gin.Context) {
	k, h, was, ok := p.enterEventForm(c, c.PostForm("was"))
	if !ok {
		return
	}
	t := k.read(c.Request.PostForm, was)
	if len(t.wrong) > 0 {
		p.renderEventForm(c, http.StatusUnprocessableEntity, k, h, was, t)
		return
	}
	var removed models.SiteEvents
	if was != nil {
		removed = was.rows()
	}
	err := p.SaveSiteEvents(c, removed, t.rows)
	switch models.CodeOf(err) {
	case "":
		if c.PostForm("again") != "" {
			p.planAgain(c, k.setup.Site, max(k.setup.Site.ServiceDayOf(t.from), k.setup.Site.ServiceDayOf(p.Now())))
			return
		}
		made := eventItems(t.rows, k.setup, h.voice)
		c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(k.setup.Site.Code)+"/known?"+url.Values{"saved": {made[0].key()}}.Encode())
	case models.CodeInvalid, models.CodeMalformed, models.CodeNotFound:
		t.addServerErrors(k, err)
		p.renderEventForm(c, models.CodeOf(err).Status(), k, h, was, t)
	default:
		p.renderError(c, err)
	}
}
