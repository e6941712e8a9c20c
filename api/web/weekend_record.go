package web

import (
	"cmp"
	"math"
	"slices"

	"hotday/api/web/say"
	"hotday/models"
)

// workView is a job that takes a while, in words.
type workView struct {
	Kind, Say string
}

// workTexts are the texts of the jobs that the pages tell of.
var workTexts = map[string]string{models.JobRefit: "work.refit", models.JobReplay: "work.replay"}

// workViews says what seems to be under way.
func workViews(list []models.Progress, v voice, under func(models.Progress) bool) []workView {
	var out []workView
	for _, p := range list {
		if key, ok := workTexts[p.Kind]; ok && under(p) {
			out = append(out, workView{p.Kind, v.Say(key, "share", say.Number(100*p.Share, 0)+"\u202f%")})
		}
	}
	return out
}

// Drinks are told apart only where that tells something: enough days of a word, and this much between two figures, %.
const (
	wordDays   = 6
	tellingGap = 10.0
	drinksTold = 3
)

// recordWords says how well the manager's word and the forecast have done; empty where neither was judged.
func recordWords(r models.TrackRecord, v voice, name func(drink string) string) []string {
	f, w := r.All.Forecast, r.All.Word
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
		out = append(out, v.Say("record.forecast", "span", span, "off", say.Pct(*f.DayOffPct), "days", days(f.Days)))
	}
	switch b := r.All.Beside; {
	case w.DayOffPct == nil:
	case b.DayOffPct == nil || b.Days < w.Days:
		out = append(out, v.Say("record.word", "span", span, "off", say.Pct(*w.DayOffPct), "days", days(w.Days)))
	default:
		out = append(out, v.Say("record.word_beside", "off", say.Pct(*w.DayOffPct), "days", days(w.Days), "beside", say.Pct(*b.DayOffPct)))
	}
	if f.InsidePct != nil {
		out = append(out, v.Say("record.inside", "inside", say.Pct(*f.InsidePct)))
	}
	if w.InsidePct != nil {
		out = append(out, v.Say("record.word_inside", "inside", say.Pct(*w.InsidePct)))
	}
	if text := biased(v, "", f); text != "" {
		out = append(out, text)
	}
	out = append(out, drinkWords(r, v, name)...)
	if r.Observed > 0 {
		out = append(out, v.Say("record.observed", "days", days(r.Observed)))
	}
	return out
}

// biased says of a drink's forecast, or of all (""), that it has been too high or too low on the whole; empty where it was not.
func biased(v voice, drink string, s models.Score) string {
	if s.BiasPct == nil || math.Abs(*s.BiasPct) < tellingGap {
		return ""
	}
	by, keys := say.Pct(math.Abs(*s.BiasPct)), [2]string{"record.all_low", "record.all_high"}
	if drink != "" {
		keys = [2]string{"record.drink_low", "record.drink_high"}
	}
	key := keys[0]
	if *s.BiasPct > 0 {
		key = keys[1]
	}
	return v.Say(key, "drink", drink, "by", by)
}

// drinkWords tells of the few drinks that stand out most.
func drinkWords(r models.TrackRecord, v voice, name func(string) string) []string {
	type told struct {
		text string
		gap  float64
	}
	var list []told
	for _, d := range r.Drinks {
		w, b, f := d.Word, d.Beside, d.Forecast
		if w.Days >= wordDays && w.DayOffPct != nil && b.DayOffPct != nil && b.Days == w.Days {
			if gap := *b.DayOffPct - *w.DayOffPct; math.Abs(gap) >= tellingGap {
				key := "record.word_better"
				if gap < 0 {
					key = "record.word_worse"
				}
				list = append(list, told{v.Say(key, "drink", name(d.Drink), "off", say.Pct(*w.DayOffPct), "beside", say.Pct(*b.DayOffPct)), math.Abs(gap)})
				continue
			}
		}
		if all := r.All.Forecast.BiasPct; f.BiasPct != nil && all != nil && f.Days >= 2*wordDays && math.Abs(*f.BiasPct-*all) >= tellingGap {
			if text := biased(v, name(d.Drink), f); text != "" {
				list = append(list, told{text, math.Abs(*f.BiasPct - *all)})
			}
		}
	}
	slices.SortStableFunc(list, func(a, b told) int { return cmp.Compare(b.gap, a.gap) })
	var out []string
	for _, t := range list[:min(len(list), drinksTold)] {
		out = append(out, t.text)
	}
	return out
}

// drinkNames looks up what a drink is called.
func drinkNames(drinks []models.Drink) func(string) string {
	return func(code string) string {
		for i := range drinks {
			if drinks[i].Code == code {
				return nameOr(drinks[i].Name, code)
			}
		}
		return code
	}
}
