package web

import (
	"net/http"
	"slices"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// quickEvent is the form of an event in two taps: chips for its day, hours and effect.
type quickEvent struct {
	Site    string
	CSRF    string
	Days    []chip
	Hours   []chip
	Effects []chip
	Other   string // the effect as typed
	Name    string
	Wrong   string
}

type chip struct {
	Value, Name string
	Checked     bool
}

// Days that the form offers: a week from today, and the planned ones.
const quickDays, mostQuickDays = 7, 10

// Effects that have a chip.
var quickEffects = []struct {
	value, text string
	factor      float64
}{
	{"1.1", "known.quick.busier", 1.1}, {"1.3", "known.quick.busier", 1.3}, {"1.5", "known.quick.busier", 1.5}, {"0.5", "known.quick.half", 0.5}, {"closed", "known.quick.closed", 1},
}

// quickEventOf returns the form with a day chosen; end is the day after the last planned one, "" if there is no plan.
func quickEventOf(h head, site models.Site, now time.Time, chosen, end models.Date) *quickEvent {
	q := &quickEvent{Site: h.Site, CSRF: h.CSRF}
	today := site.ServiceDayOf(now)
	end = min(max(end, today.AddDays(quickDays)), today.AddDays(mostQuickDays))
	for d := today; d < end; d = d.AddDays(1) {
		if len(site.OpenSpans(d)) > 0 {
			q.Days = append(q.Days, chip{string(d), h.voice.ShortDay(d) + " " + h.voice.ShortDate(noonOf(d, h.voice.Location())), d == chosen})
		}
	}
	if len(q.Days) > 0 && !slices.ContainsFunc(q.Days, func(c chip) bool { return c.Checked }) {
		q.Days[0].Checked = true
	}
	q.Hours = []chip{{"", h.voice.Say("known.quick.all_day"), true}}
	for _, p := range site.DayParts {
		q.Hours = append(q.Hours, chip{Value: p.Code, Name: p.Code})
	}
	for _, e := range quickEffects {
		q.Effects = append(q.Effects, chip{Value: e.value, Name: h.voice.Say(e.text, "pct", strconv.Itoa(int((e.factor-1)*100+0.5)))})
	}
	return q
}

// refill puts what was sent back into the form, with what was wrong.
func (q *quickEvent) refill(c *gin.Context, wrong string) {
	for name, chips := range map[string][]chip{"day": q.Days, "hours": q.Hours, "effect": q.Effects} {
		for i := range chips {
			chips[i].Checked = chips[i].Value == c.PostForm(name)
		}
	}
	q.Other, q.Name, q.Wrong = c.PostForm("other"), c.PostForm("name"), wrong
}

// postQuickEvent stores an event from chips, or a typed effect, and orders a plan with it.
func (p *pages) postQuickEvent(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "known")
	if !ok {
		return
	}
	event, day, wrong := readQuickEvent(c, setup.Site, h.voice)
	if wrong == "" {
		err := p.SaveSiteEvents(c, models.SiteEvents{}, models.SiteEvents{Events: []models.Event{event}})
		if code := models.CodeOf(err); code == models.CodeInvalid || code == models.CodeConflict {
			wrong = h.voice.Say("known.quick.refused")
		} else if err != nil {
			p.renderError(c, err)
			return
		}
	}
	if wrong != "" {
		p.renderEvents(c, http.StatusUnprocessableEntity, h, setup, func(v *eventsView) { v.Quick.refill(c, wrong) })
		return
	}
	p.planAgain(c, setup.Site, day)
}

// planAgain orders a plan with a day and shows Weekend.
func (p *pages) planAgain(c *gin.Context, site models.Site, day models.Date) {
	o, err := p.again(c.Request.Context(), site, day)
	if err != nil {
		p.renderError(c, err)
		return
	}
	p.order(c, o, day)
}

// readQuickEvent reads the form; wrong says what is missing.
func readQuickEvent(c *gin.Context, site models.Site, v voice) (e models.Event, day models.Date, wrong string) {
	if day.UnmarshalText([]byte(c.PostForm("day"))) != nil {
		return e, "", v.Say("known.quick.no_day")
	}
	e = models.Event{Name: c.PostForm("name"), Factor: 1, From: day.At(0, site.Location()), To: site.DayEnd(day)}
	if part := c.PostForm("hours"); part != "" {
		i := slices.IndexFunc(site.DayParts, func(p models.DayPart) bool { return p.Code == part })
		if i < 0 {
			return e, "", v.Say("known.quick.no_day")
		}
		span := site.DayPartSpan(day, site.DayParts[i])
		e.From, e.To = span.From, span.To
	}
	if other := c.PostForm("other"); other != "" {
		var ok bool
		if e.Factor, e.Closed, ok = readEffect(other, v); !ok {
			return e, "", v.Say("known.quick.unclear", "typed", other)
		}
		return e, day, ""
	}
	effect := c.PostForm("effect")
	for _, x := range quickEffects {
		if x.value == effect {
			e.Factor, e.Closed = x.factor, x.value == "closed"
			return e, day, ""
		}
	}
	return e, "", v.Say("known.quick.no_effect")
}
