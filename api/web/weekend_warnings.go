package web

import (
	"slices"
	"strings"
	"time"

	"hotday/api/web/say"
	"hotday/models"
)

// warningView is a warning as a sentence with its ways out.
type warningView struct {
	ID     string // of the open warning; empty: it is a plan's
	Index  int
	Grade  string // the class of its wedge
	Soon   string // how soon to act, in words
	Say    string
	Cause  string
	SeenBy string // in the kitchen, and when; empty: by nobody
	Ways   []wayView
	Above  []string // ways told with a warning before this one that help here too

	MayMark bool // on the wall: it can be said to be seen
}

// wayView is a way out, told once with the gravest warning that it helps; Also says what it does for the others.
type wayView struct {
	Index  int
	Action string
	Effect string
	Also   []string
	change string
}

var gradeOrder = []string{models.GradeActNow, models.GradeActToday, models.GradeNote}

// warningViews puts the gravest first, then in order of time. Index is the warning's place in the plan.
func warningViews(r models.PlanRequest, plan models.Plan) []warningView {
	var out []warningView
	q := voiceOf(r.Site)
	for _, grade := range gradeOrder {
		for i, w := range plan.Warnings {
			if w.Grade != grade {
				continue
			}
			v := warningOf(w, q)
			v.Index = i
			for k, way := range w.WaysOut {
				if told := wayTold(out, string(way.Change)); told != nil {
					if w.Kind != models.WarnPlainIce { // which only says more of the shortage of drink ice
						told.Also = append(told.Also, q.Say("weekend.also", "what", say.Subject(w, q.Writer), "effect", effectOn(w, way, q)))
					}
					v.Above = append(v.Above, way.Action)
					continue
				}
				v.Ways = append(v.Ways, wayView{Index: k, Action: way.Action, Effect: effect(w, way, r.Site.Currency, q), change: string(way.Change)})
			}
			out = append(out, v)
		}
	}
	return out
}

// wayTold is the way with a change where a warning before tells it, else nil.
func wayTold(before []warningView, change string) *wayView {
	for i := range before {
		for k := range before[i].Ways {
			if w := &before[i].Ways[k]; w.change == change {
				return w
			}
		}
	}
	return nil
}

// aboutTheSame is how far the times of two warnings of a kind may lie apart that are about the same thing.
const aboutTheSame = 6 * time.Hour

// openViews are the open warnings of the day to act on that are not told among those of the plan, gravest first.
func openViews(open []models.OpenWarning, told []models.Warning, q voice) []warningView {
	var out []warningView
	for _, grade := range []string{models.GradeActNow, models.GradeActToday} {
		for _, w := range open {
			if w.Grade != grade || slices.ContainsFunc(told, func(t models.Warning) bool { return t.Kind == w.Kind && t.At.Sub(w.At).Abs() < aboutTheSame }) {
				continue
			}
			v := warningOf(w.Warning, q)
			v.ID = w.ID
			for k, way := range w.WaysOut {
				v.Ways = append(v.Ways, wayView{Index: k, Action: way.Action})
			}
			if w.AckedAt != nil {
				v.SeenBy = w.AckedBy + ", " + q.At(*w.AckedAt)
			}
			out = append(out, v)
		}
	}
	return out
}

// warningOf says a warning without its ways out. A cause that is the whole sentence already, with its time, stands alone.
func warningOf(w models.Warning, q voice) warningView {
	v := warningView{Grade: w.Grade, Soon: say.Grade(w.Grade, q.Writer), Say: say.Sentence(w, q.Writer) + ".", Cause: w.Cause}
	if !w.At.IsZero() && strings.HasPrefix(w.Cause, q.Weekday(w.At)) {
		v.Say, v.Cause = w.Cause, ""
	}
	return v
}

// effect says what a way out changes: "chance 38 % → 6 %, 6.0 kg → 0.4 kg, 12.40 EUR more".
func effect(w models.Warning, way models.WayOut, currency string, q voice) string {
	s := effectOn(w, way, q)
	if s != "" {
		s += ", "
	}
	return s + costMore(way.Cost, currency, q)
}

// effectOn is what a way out does to one warning: "chance 38 % → 6 %, 6.0 kg → 0.4 kg".
func effectOn(w models.Warning, way models.WayOut, q voice) string {
	s := ""
	if w.ChancePct > 0 {
		s = q.Say("weekend.effect.chance", "now", say.Pct(w.ChancePct), "then", say.Pct(way.Effect.ChancePct))
	}
	if w.Amount > 0 {
		if s != "" {
			s += ", "
		}
		s += say.Amount(w.Amount, w.Unit, q.Writer) + " → " + say.Amount(way.Effect.Amount, w.Unit, q.Writer)
	}
	return s
}

func costMore(minor float64, currency string, q voice) string {
	switch {
	case minor >= 0.5:
		return q.Say("weekend.effect.more", "money", say.Money(minor, currency))
	case minor <= -0.5:
		return q.Say("weekend.effect.less", "money", say.Money(-minor, currency))
	}
	return q.Say("weekend.effect.same")
}

func nameOr(name, code string) string {
	if name != "" {
		return name
	}
	return code
}
