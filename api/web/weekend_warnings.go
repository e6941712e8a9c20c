package web

import (
	"slices"
	"strconv"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// warningView is a warning as a sentence with its fixes.
type warningView struct {
	ID         string // of an open warning; "": a warning of the plan
	Index      int
	Grade      string // CSS class
	Soon       string // when to act
	Say        string
	Cause      string
	SeenBy     string // who acknowledged it, and when; "": nobody
	Fixes      []fixView
	FixesAbove []string // fixes of earlier warnings that also help here

	MayMark bool // it can be acknowledged

	Rule, Of string // of a lax setting that can be signed off
	Value    string
}

// fixView is a fix, shown once with the most severe warning it helps; Also gives its effect on the others.
type fixView struct {
	Index  int
	Action string
	Effect string
	Also   []string
	change string
}

var gradeOrder = []string{models.GradeActNow, models.GradeActToday, models.GradeNote}

// warningViews sorts by severity, then as in the plan. Index is the warning's index in the plan.
func warningViews(r models.PlanRequest, plan models.Plan) []warningView {
	var out []warningView
	q := voiceOf(r.Site)
	for _, grade := range gradeOrder {
		for i, w := range plan.Warnings {
			if w.Grade != grade {
				continue
			}
			v := newWarningView(w, q)
			v.Index = i
			for k, fix := range w.Fixes {
				if shown := findFixView(out, string(fix.Change)); shown != nil {
					if w.Kind != models.WarnPlainIce { // it only details the shortage of drink ice
						shown.Also = append(shown.Also, q.Say("weekend.also", "what", q.WarningSubject(w), "effect", effectOn(w, fix, q)))
					}
					v.FixesAbove = append(v.FixesAbove, fix.Action)
					continue
				}
				v.Fixes = append(v.Fixes, fixView{Index: k, Action: fix.Action, Effect: effect(w, fix, r.Site.Currency, q), change: string(fix.Change)})
			}
			out = append(out, v)
		}
	}
	return out
}

// findFixView returns the fix with the same change in an earlier warning, or nil.
func findFixView(before []warningView, change string) *fixView {
	for i := range before {
		for k := range before[i].Fixes {
			if w := &before[i].Fixes[k]; w.change == change {
				return w
			}
		}
	}
	return nil
}

// sameCauseWithin is the maximum time between two warnings of a kind about the same shortage.
const sameCauseWithin = 6 * time.Hour

// openWarningViews returns the open warnings to act on that are not among the plan's, most severe first.
func openWarningViews(open []models.OpenWarning, planned []models.Warning, q voice) []warningView {
	var out []warningView
	for _, grade := range []string{models.GradeActNow, models.GradeActToday} {
		for _, w := range open {
			if w.Grade != grade || slices.ContainsFunc(planned, func(t models.Warning) bool { return t.Kind == w.Kind && t.At.Sub(w.At).Abs() < sameCauseWithin }) {
				continue
			}
			v := newWarningView(w.Warning, q)
			v.ID = w.ID
			for k, fix := range w.Fixes {
				v.Fixes = append(v.Fixes, fixView{Index: k, Action: fix.Action})
			}
			if w.AckedAt != nil {
				v.SeenBy = w.AckedBy + ", " + q.At(*w.AckedAt)
			}
			out = append(out, v)
		}
	}
	return out
}

// newWarningView returns a warning without its fixes. A cause that is already a full sentence with its time replaces the sentence.
func newWarningView(w models.Warning, q voice) warningView {
	v := warningView{Grade: w.Grade, Soon: q.WarningGrade(w.Grade), Say: q.WarningSentence(w) + ".", Cause: w.Cause}
	if w.Rule != "" && w.SignedBy == "" {
		v.Rule, v.Of, v.Value = w.Rule, w.Subject, strconv.FormatFloat(w.Value, 'f', -1, 64)
	}
	if !w.At.IsZero() && say.CauseSaysWhen(w.Kind) {
		v.Say, v.Cause = w.Cause, ""
	}
	return v
}

// effect describes a fix's effect and cost: "chance 38% → 6%, 6.0 kg → 0.4 kg, 12.40 EUR more".
func effect(w models.Warning, fix models.Fix, currency string, q voice) string {
	s := effectOn(w, fix, q)
	if s != "" {
		s += ", "
	}
	return s + costChange(fix.Cost, currency, q)
}

// effectOn describes a fix's effect on one warning: "chance 38% → 6%, 6.0 kg → 0.4 kg".
func effectOn(w models.Warning, fix models.Fix, q voice) string {
	s := ""
	if w.ChancePct > 0 {
		s = q.Say("weekend.effect.chance", "now", q.Chance(w.ChancePct), "then", q.Chance(fix.Effect.ChancePct))
	}
	if w.Amount > 0 {
		if s != "" {
			s += ", "
		}
		s += q.WarningAmount(w.Amount, w.Unit) + " → " + q.WarningAmount(fix.Effect.Amount, w.Unit)
	}
	return s
}

func costChange(minor float64, currency string, q voice) string {
	switch {
	case minor >= 0.5:
		return q.Say("weekend.effect.more", "money", q.Money(minor, currency))
	case minor <= -0.5:
		return q.Say("weekend.effect.less", "money", q.Money(-minor, currency))
	}
	return q.Say("weekend.effect.same")
}
