package web

import (
	"cmp"
	"math"
	"slices"

	"hotday/models"
)

// workView is the progress of a long-running job.
type workView struct {
	Kind, Say string
}

// workTexts are the text keys of the jobs shown.
var workTexts = map[string]string{models.JobRefit: "weekend.script.learning", models.JobReplay: "review.script.replay"}

// workViews returns the jobs selected by under.
func workViews(list []models.Progress, v voice, under func(models.Progress) bool) []workView {
	var out []workView
	for _, p := range list {
		if key, ok := workTexts[p.Kind]; ok && under(p) {
			out = append(out, workView{p.Kind, v.Say(key, "share", v.Percent(100*p.Share, 0))})
		}
	}
	return out
}

// Drinks are mentioned only with enough data and a large enough difference.
const (
	minManualDays = 6    // days with the manager's numbers
	notableGap    = 10.0 // percentage points between two figures
	drinksShown   = 3
)

// accuracyText describes the accuracy of the forecast and of the manager's numbers; nil before the first evaluation.
func accuracyText(r models.TrackRecord, v voice, name func(drink string) string) []string {
	f, w := r.All.Forecast, r.All.Override
	if r.From == nil || (f.DayOffPct == nil && w.DayOffPct == nil) {
		return nil
	}
	days := func(n int) string { return v.Say("record.days", "n", n) }
	span := v.Say("record.last_days", "n", r.From.DaysUntil(*r.To)+1)
	if n := r.From.DaysUntil(*r.To) + 1; n >= 14 {
		span = v.Say("record.last_weeks", "n", int(math.Round(float64(n)/7)))
	}
	var out []string
	if f.DayOffPct != nil {
		out = append(out, v.Say("record.forecast", "span", span, "off", v.Percent(*f.DayOffPct, 0), "days", days(f.Days)))
	}
	switch b := r.All.Paired; {
	case w.DayOffPct == nil:
	case b.DayOffPct == nil || b.Days < w.Days:
		out = append(out, v.Say("record.word", "span", span, "off", v.Percent(*w.DayOffPct, 0), "days", days(w.Days)))
	default:
		out = append(out, v.Say("record.word_beside", "off", v.Percent(*w.DayOffPct, 0), "days", days(w.Days), "beside", v.Percent(*b.DayOffPct, 0)))
	}
	if f.InsidePct != nil {
		out = append(out, v.Say("record.inside", "inside", v.Percent(*f.InsidePct, 0)))
	}
	if w.InsidePct != nil {
		out = append(out, v.Say("record.word_inside", "inside", v.Percent(*w.InsidePct, 0)))
	}
	if text := biasText(v, "", f); text != "" {
		out = append(out, text)
	}
	out = append(out, drinkAccuracyText(r, v, name)...)
	if r.Observed > 0 {
		out = append(out, v.Say("record.observed", "days", days(r.Observed)))
	}
	return out
}

// biasText says that the forecast of a drink, or of all (""), has been too high or too low on average; "" if it has not.
func biasText(v voice, drink string, s models.Score) string {
	if s.BiasPct == nil || math.Abs(*s.BiasPct) < notableGap {
		return ""
	}
	by, keys := v.Percent(math.Abs(*s.BiasPct), 0), [2]string{"record.all_low", "record.all_high"}
	if drink != "" {
		keys = [2]string{"record.drink_low", "record.drink_high"}
	}
	key := keys[0]
	if *s.BiasPct > 0 {
		key = keys[1]
	}
	return v.Say(key, "drink", drink, "by", by)
}

// drinkAccuracyText describes the drinks that stand out most, at most drinksShown.
func drinkAccuracyText(r models.TrackRecord, v voice, name func(string) string) []string {
	type finding struct {
		text string
		gap  float64
	}
	var list []finding
	for _, d := range r.Drinks {
		w, b, f := d.Override, d.Paired, d.Forecast
		if w.Days >= minManualDays && w.DayOffPct != nil && b.DayOffPct != nil && b.Days == w.Days {
			if gap := *b.DayOffPct - *w.DayOffPct; math.Abs(gap) >= notableGap {
				key := "record.word_better"
				if gap < 0 {
					key = "record.word_worse"
				}
				list = append(list, finding{v.Say(key, "drink", name(d.Drink), "off", v.Percent(*w.DayOffPct, 0), "beside", v.Percent(*b.DayOffPct, 0)), math.Abs(gap)})
				continue
			}
		}
		if all := r.All.Forecast.BiasPct; f.BiasPct != nil && all != nil && f.Days >= 2*minManualDays && math.Abs(*f.BiasPct-*all) >= notableGap {
			if text := biasText(v, name(d.Drink), f); text != "" {
				list = append(list, finding{text, math.Abs(*f.BiasPct - *all)})
			}
		}
	}
	slices.SortStableFunc(list, func(a, b finding) int { return cmp.Compare(b.gap, a.gap) })
	var out []string
	for _, t := range list[:min(len(list), drinksShown)] {
		out = append(out, t.text)
	}
	return out
}
