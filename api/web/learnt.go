package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/say"
)

// learntView is the shop's own physics on the Review page.
type learntView struct {
	Suggested []learntRow
	Used      []learntRow  // suggestions that were taken and may be undone
	Values    []learntLine // all of them
}

// learntRow is a sentence with a button. Value is what the form sends, Points are values at other air temperatures or batch sizes.
type learntRow struct{ ID, Say, Points, Sums, Caution, Value, Button string }

type learntLine struct{ Name, SetUp, Value, Range, N string }

// learntOf words what was learnt.
func learntOf(l *models.Learnt, setup *models.Setup, q voice) *learntView {
	t := learntTexts{q, setup}
	out := &learntView{}
	for i := range l.Values {
		v := &l.Values[i]
		out.Values = append(out.Values, learntLine{Name: t.name(v.ID, true), SetUp: t.value(v.Kind, v.SetUp), Value: t.value(v.Kind, v.Value),
			Range: q.Say("review.learnt.range", "low", t.value(v.Kind, v.Low), "high", t.value(v.Kind, v.High)), N: say.Number(float64(v.N), 0)})
		if v.Change != nil {
			out.Suggested = append(out.Suggested, t.suggestion(v))
		}
	}
	undone := map[string]bool{}
	for _, c := range l.Changes {
		if c.UndoneAt == nil && !undone[c.Of] {
			out.Used = append(out.Used, learntRow{ID: c.Of, Say: q.Say("review.learnt.used", "name", t.name(c.Of, true), "from", t.value(kindOf(c.Of), c.SetUp), "to", t.value(kindOf(c.Of), c.Value),
				"by", c.By, "day", q.DayName(models.DateOf(c.At, setup.Site.Location())))})
		}
		undone[c.Of] = true // only the latest change of a value
	}
	if len(out.Values)+len(out.Used) == 0 {
		return nil
	}
	return out
}

func kindOf(id string) string {
	kind, _, _ := strings.Cut(id, ":")
	return kind
}

// basisOf names what a kind of value is learnt from.
func basisOf(kind string) string {
	switch kind {
	case models.LearntIceMachine, models.LearntBinLoss, models.LearntIceServed:
		return "ice_counts"
	}
	return kind
}

// learntTexts words learnt values in the site's units.
type learntTexts struct {
	voice
	setup *models.Setup
}

// name is the name of a value by its ID: "Bar maker, ice a day".
func (t learntTexts) name(id string, withKind bool) string {
	kind, subject, _ := strings.Cut(id, ":")
	if kind != models.LearntIceMachine {
		code, brewer, compared := strings.Cut(subject, ":")
		subject = beverageName(t.setup.Beverages, code)
		if compared {
			subject = t.Say("review.learnt.on", "beverage", subject, "brewer", brewer)
		}
	}
	if !withKind {
		return subject
	}
	return t.Say("review.learnt.name."+kind, "subject", subject)
}

// value is a value of a kind with its unit.
func (t learntTexts) value(kind string, x float64) string {
	switch kind {
	case models.LearntIceMachine:
		return t.GlanceMass(1000 * x)
	case models.LearntBinLoss:
		return t.Percent(x, 1)
	case models.LearntIceServed:
		return t.Percent(x, 0)
	case models.LearntStrength:
		return t.Percent(x, 2)
	case models.LearntCooling:
		return t.Minutes(x)
	case models.LearntHold:
		return t.Span(time.Duration(x * float64(time.Hour)))
	}
	return t.Number(x, 2)
}

func (t learntTexts) suggestion(v *models.LearntValue) learntRow {
	to := t.value(v.Kind, v.Change.Value)
	out := learntRow{ID: v.ID, Value: strconv.FormatFloat(v.Change.Value, 'g', -1, 64), Button: t.Say("review.learnt.use", "value", to)}
	out.Say = t.Say("review.learnt.say."+v.Kind, "subject", t.name(v.ID, false), "value", to, "set_up", t.value(v.Kind, v.SetUp),
		"air", t.WholeTemp(v.AirC), "from", t.Temp(v.FromC), "to", t.Temp(v.ToC))
	out.Sums = t.Say("review.learnt.sums", "n", v.N, "basis", t.Say("review.learnt.basis."+basisOf(v.Kind), "n", v.N), "low", t.value(v.Kind, v.Low), "high", t.value(v.Kind, v.High))
	out.Points = t.points(v)
	if v.Note != "" {
		out.Caution = t.Say("review.learnt.note." + v.Note)
	}
	return out
}

// points words what an ice machine makes in cooler and warmer air, and how long smaller batches take to cool.
func (t learntTexts) points(v *models.LearntValue) string {
	var out []string
	for _, p := range v.Points {
		switch {
		case v.Kind == models.LearntIceMachine && p.At != v.AirC:
			out = append(out, t.Say("review.learnt.at", "air", t.WholeTemp(p.At), "value", t.value(v.Kind, p.Value)))
		case v.Kind == models.LearntCooling && p.Value < v.Value:
			out = append(out, t.Say("review.learnt.size", "mass", t.GlanceMass(p.At), "value", t.value(v.Kind, p.Value)))
		}
	}
	return strings.Join(out, " ")
}

// postLearnt takes a suggestion or undoes one.
func (p *pages) postLearnt(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeManage, "review")
	if !ok {
		return
	}
	var err error
	if c.PostForm("undo") != "" {
		_, err = p.UndoLearnt(c, setup.Site.Code, c.PostForm("undo"))
	} else {
		var value float64
		if value, err = strconv.ParseFloat(c.PostForm("value"), 64); err != nil {
			p.renderError(c, models.Invalid("/value", "a number", "the form has no value"))
			return
		}
		_, err = p.UseLearnt(c, setup.Site.Code, c.PostForm("use"), value)
	}
	if err != nil {
		p.renderError(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/review#learnt")
}
