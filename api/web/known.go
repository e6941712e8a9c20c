package web

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

const (
	knownAhead = 14 // days that the page lists as coming
	knownLater = 365
	knownOver  = 14 // days back, to put right what was forgotten
)

// knownView is what is known of the days, in sentences, and what the plan makes of it.
type knownView struct {
	head
	Coming []knownLine
	Later  []knownLine
	Over   []knownLine
	Kinds  []knownChoice
	Saved  bool
	Stale  string      // which plan does not know all of this
	Still  []knownLine // what that plan reckons with and nobody says any more
	Wrong  string
}

type knownLine struct {
	Key, When, Say string
	Change         string // the address where it is changed
	Anew           bool   // the plan does not know it
	Hours          bool   // the Set-up keeps it
}

type knownChoice struct{ Kind, Name string }

// knownFormView is the form of one kind.
type knownFormView struct {
	head
	Kind, Name, Lead string
	Was              string // the key of what is changed; empty: it is new
	Fields           fieldView
	Wrong            []fieldView
	General          []models.FieldError
}

// known lists what is known.
func (p *pages) known(c *gin.Context) {
	if h, setup, ok := p.enter(c, models.ScopeManage, "weekend"); ok {
		p.showKnown(c, http.StatusOK, h, setup, "")
	}
}

func (p *pages) showKnown(c *gin.Context, status int, h head, setup models.Setup, wrong string) {
	now := p.Now()
	stored, err := p.readKnown(c, setup, now)
	if err != nil {
		p.trouble(c, err)
		return
	}
	plan, request, err := p.Store.LatestPlan(c.Request.Context(), setup.Site.Code)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		p.trouble(c, err)
		return
	}
	v := knownView{head: h, Saved: c.Query("saved") != "" && wrong == "", Wrong: wrong}
	v.Title = h.voice.Say("known.title") + " · " + siteName(setup.Site)
	items := knownItems(stored, setup, h.voice)
	judged := judgePlan(items, setup, plan, request, now, h.voice)
	loc, at := setup.Site.Location(), "/s/"+url.PathEscape(setup.Site.Code)
	today := setup.Site.ServiceDayOf(now)
	for _, i := range items {
		line := knownLine{Key: i.key(), When: spanInWords(i, h.voice), Say: i.sentence(now, h.voice), Anew: judged.anew[i.key()], Hours: i.kind == knownHours,
			Change: at + "/known/" + i.kind + "?of=" + url.QueryEscape(i.key())}
		if line.Hours {
			line.Change = at + "/setup/hours"
		}
		switch {
		case !i.open && !i.to.After(now):
			if i.to.After(today.AddDays(-knownOver).At(0, loc)) {
				v.Over = append(v.Over, line)
			}
		case i.from.Before(today.AddDays(knownAhead).At(0, loc)):
			v.Coming = append(v.Coming, line)
		default:
			v.Later = append(v.Later, line)
		}
	}
	for _, i := range judged.still {
		v.Still = append(v.Still, knownLine{When: spanInWords(i, h.voice), Say: i.say})
	}
	if len(judged.anew)+len(v.Still) > 0 {
		v.Stale = h.voice.Say("known.stale", "revision", plan.Revision, "when", h.voice.Near(plan.ComputedAt, now))
	}
	for _, k := range knownKinds {
		v.Kinds = append(v.Kinds, knownChoice{k, h.voice.Say("known.kind." + k)})
	}
	p.render(c, status, "known", v)
}

// readKnown reads what is said of the days around now.
func (p *pages) readKnown(c *gin.Context, setup models.Setup, now time.Time) (k models.Known, err error) {
	ctx, site, loc := c.Request.Context(), setup.Site.Code, setup.Site.Location()
	today := setup.Site.ServiceDayOf(now)
	from, to := today.AddDays(-knownOver).At(0, loc), today.AddDays(knownLater).At(0, loc)
	err = p.Store.Read(ctx, func(s models.Store) (err error) {
		k, err = knownBetween(ctx, s, site, from, to)
		return err
	})
	return k, err
}

func knownBetween(ctx context.Context, s models.Store, site string, from, to time.Time) (k models.Known, err error) {
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

// judgement is how what is known stands to a plan: what the plan does not know, by key, and what it still reckons with.
type judgement struct {
	anew  map[string]bool
	still []knownItem
}

// judgePlan compares what is known with what a plan was made from, over those of its days that are still to come.
func judgePlan(items []knownItem, setup models.Setup, plan models.Plan, request models.PlanRequest, now time.Time, v voice) judgement {
	out := judgement{anew: map[string]bool{}}
	if plan.Revision == 0 {
		return out
	}
	begin, end := plan.From.At(0, setup.Site.Location()), setup.Site.DayEnd(plan.From.AddDays(plan.Days-1))
	if plan.ComputedAt.Before(begin) {
		begin = plan.ComputedAt // brewing and ice begin the day before
	}
	if begin.Before(now) {
		begin = now
	}
	concerns := func(i knownItem) bool { return i.toPlan(setup) && i.from.Before(end) && (i.open || i.to.After(begin)) }
	then := request.Setup
	then.Site.Units, then.Site.Language = setup.Site.Units, setup.Site.Language
	before := knownItems(models.Known{Events: request.Events, Outages: request.Outages, Attention: request.Attention}, then, v)
	in := func(list []knownItem, i knownItem) bool {
		return slices.ContainsFunc(list, func(x knownItem) bool { return x.whole() == i.whole() })
	}
	for _, i := range items {
		if concerns(i) && !in(before, i) {
			out.anew[i.key()] = true
		}
	}
	for _, i := range before {
		if concerns(i) && !in(items, i) {
			out.still = append(out.still, i)
		}
	}
	return out
}

// known says what is known of the plan's days, and whether the plan goes by it.
func (v *weekendView) known(st weekendState, setup models.Setup, now time.Time) {
	q := v.voice
	items := knownItems(st.known, setup, q)
	judged := judgePlan(items, setup, st.plan, st.request, now, q)
	begin, end := st.plan.From.At(0, q.Location()), setup.Site.DayEnd(st.plan.From.AddDays(st.plan.Days-1))
	for _, i := range items {
		anew := judged.anew[i.key()]
		if anew || i.from.Before(end) && (i.open || i.to.After(begin)) {
			v.Known = append(v.Known, knownLine{When: spanInWords(i, q), Say: i.sentence(now, q), Anew: anew})
		}
	}
	if len(judged.anew)+len(judged.still) > 0 {
		v.Status = append(v.Status, q.Say("known.status"))
	}
}

// takeKnownBack takes back what a line of the list says.
func (p *pages) takeKnownBack(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return
	}
	item, err := p.knownWith(c, setup, h.voice, c.PostForm("back"))
	if err == nil {
		err = p.SaveKnown(c, item.rows(), models.Known{})
	}
	switch models.CodeOf(err) {
	case "":
		c.Redirect(http.StatusSeeOther, c.Request.URL.Path+"?saved=1")
	case models.CodeNotFound:
		p.showKnown(c, http.StatusNotFound, h, setup, h.voice.Say("known.gone"))
	default:
		p.trouble(c, err)
	}
}

// knownWith finds the item that has a key.
func (p *pages) knownWith(c *gin.Context, setup models.Setup, v voice, key string) (knownItem, error) {
	stored, err := p.readKnown(c, setup, p.Now())
	if err != nil {
		return knownItem{}, err
	}
	for _, i := range knownItems(stored, setup, v) {
		if i.kind != knownHours && i.key() == key {
			return i, nil
		}
	}
	return knownItem{}, models.Errorf(models.CodeNotFound, "%s", v.Say("known.gone"))
}

// enterKnown is enter for the form of a kind; was is the item that is changed, nil for a new one.
func (p *pages) enterKnown(c *gin.Context, key string) (k knownSheet, h head, was *knownItem, ok bool) {
	h, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return k, h, nil, false
	}
	k = knownSheet{kind: c.Param("kind"), setup: setup, voice: h.voice, now: p.Now()}
	var err error
	if !slices.Contains(knownKinds, k.kind) {
		err = models.Errorf(models.CodeNotFound, "there is nothing at this address")
	} else if key != "" {
		var item knownItem
		if item, err = p.knownWith(c, setup, h.voice, key); err == nil && item.kind != k.kind {
			err = models.Errorf(models.CodeNotFound, "%s", h.voice.Say("known.gone"))
		}
		was = &item
	}
	if models.CodeOf(err) == models.CodeNotFound && key != "" {
		p.showKnown(c, http.StatusNotFound, h, setup, h.voice.Say("known.gone"))
		return k, h, nil, false
	}
	if err != nil {
		p.trouble(c, err)
		return k, h, nil, false
	}
	return k, h, was, true
}

// knownForm shows the form of a kind, filled in where ?of= names something that is known.
func (p *pages) knownForm(c *gin.Context) {
	if k, h, was, ok := p.enterKnown(c, c.Query("of")); ok {
		p.showKnownForm(c, http.StatusOK, k, h, c.Query("of"), typedKnown{doc: k.filled(was)})
	}
}

func (p *pages) showKnownForm(c *gin.Context, status int, k knownSheet, h head, was string, t typedKnown) {
	v := knownFormView{head: h, Kind: k.kind, Name: h.voice.Say("known.kind." + k.kind), Was: was}
	v.Title = v.Name + " · " + siteName(k.setup.Site)
	v.Lead = h.voice.Say("known.lead."+k.kind, "usual", k.setup.Site.StartsPerSlot, "min", k.setup.Site.SlotMin)
	v.Fields, v.Wrong, v.General = k.form(t.doc, t.raw, t.wrong)
	p.render(c, status, "knownform", v)
}

// postKnown stores what was typed, in place of what was changed.
func (p *pages) postKnown(c *gin.Context) {
	key := c.PostForm("was")
	k, h, was, ok := p.enterKnown(c, key)
	if !ok {
		return
	}
	t := k.read(c.Request.PostForm, was)
	if len(t.wrong) > 0 {
		p.showKnownForm(c, http.StatusUnprocessableEntity, k, h, key, t)
		return
	}
	var gone models.Known
	if was != nil {
		gone = was.rows()
	}
	err := p.SaveKnown(c, gone, t.said)
	switch models.CodeOf(err) {
	case "":
		c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(k.setup.Site.Code)+"/known?saved=1")
	case models.CodeInvalid, models.CodeMalformed, models.CodeNotFound:
		t.refused(k, err)
		p.showKnownForm(c, models.CodeOf(err).Status(), k, h, key, t)
	default:
		p.trouble(c, err)
	}
}
