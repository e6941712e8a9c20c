package chill

import (
	"fmt"
	"math"
)

// SafeStoreC is the default limit of cold holding, °C (FDA Food Code 2022, 3-501.16; from memory). Local food safety rules take
// precedence.
const SafeStoreC = 5.0

// CoolingLimits is a two-stage cooling rule.
type CoolingLimits struct {
	HotC, MiddleC, ColdC float64
	FirstMin, SecondMin  float64 // HotC → MiddleC, then MiddleC → ColdC
}

// DefaultCooling is 57 °C to 21 °C within 2 h, then to 5 °C within another 4 h (FDA Food Code 2022, 3-501.14; from memory).
var DefaultCooling = CoolingLimits{HotC: 57, MiddleC: 21, ColdC: 5, FirstMin: 120, SecondMin: 240}

// Stage is a stage of cooling: lumped cooling against AmbientC, or instantaneous (Minutes 0) by ice.
type Stage struct{ FromC, ToC, AmbientC, Minutes float64 }

// reached is the time into the stage, minutes, at which tempC is reached; +Inf if it is not.
func (s Stage) reached(tempC float64) float64 {
	switch {
	case s.FromC <= tempC:
		return 0
	case s.ToC > tempC+1e-9:
		return math.Inf(1)
	case s.Minutes == 0:
		return 0
	case s.AmbientC < s.ToC && s.ToC < s.FromC:
		return min(s.Minutes, s.Minutes*math.Log((s.FromC-s.AmbientC)/(max(tempC, s.ToC)-s.AmbientC))/math.Log((s.FromC-s.AmbientC)/(s.ToC-s.AmbientC)))
	}
	return s.Minutes
}

// minutesTo is the time from the start of the first stage until tempC is reached; +Inf if it is not.
func minutesTo(stages []Stage, tempC float64) float64 {
	at := 0.0
	for _, s := range stages {
		if m := s.reached(tempC); !math.IsInf(m, 1) {
			return at + m
		}
		at += s.Minutes
	}
	return math.Inf(1)
}

// CoolingJudgement is the result of checking a cooling process against the limits.
type CoolingJudgement struct {
	Broken  []string // a sentence for each limit exceeded
	Running string   // a sentence if it is put into the cold store above ColdC, where the clock keeps running; else ""
}

// Judge checks the stages, in order, against the limits. The clock of the first limit starts at HotC, or at the start for a brew
// that is cooler; that of the second stops at ColdC, possibly in the cold store.
func (l CoolingLimits) Judge(stages []Stage) CoolingJudgement {
	var j CoolingJudgement
	if len(stages) == 0 {
		return j
	}
	start, end, spent := stages[0].FromC, stages[len(stages)-1].ToC, 0.0
	for _, s := range stages {
		spent += s.Minutes
	}
	hot, middle, cold := minutesTo(stages, l.HotC), minutesTo(stages, l.MiddleC), minutesTo(stages, l.ColdC)
	if math.IsInf(hot, 1) {
		hot = spent
	}
	if math.IsInf(middle, 1) {
		if used := spent - hot; used > l.FirstMin {
			j.Broken = append(j.Broken, fmt.Sprintf("after %s it is still at %s: the cooling rule wants %s within %s", hours(used), degrees(end), degrees(l.MiddleC), hours(l.FirstMin)))
		} else {
			j.Running = fmt.Sprintf("it is put away at %s: it must be at %s within %s, and at %s within %s more", degrees(end), degrees(l.MiddleC), hours(l.FirstMin-used), degrees(l.ColdC), hours(l.SecondMin))
		}
		return j
	}
	if first := middle - hot; start > l.MiddleC && first > l.FirstMin {
		j.Broken = append(j.Broken, fmt.Sprintf("from %s to %s takes %s: longer than the %s of the cooling rule", degrees(min(start, l.HotC)), degrees(l.MiddleC), hours(first), hours(l.FirstMin)))
	}
	switch used := min(cold, spent) - middle; {
	case used > l.SecondMin:
		j.Broken = append(j.Broken, fmt.Sprintf("from %s to %s takes longer than the %s of the cooling rule", degrees(min(start, l.MiddleC)), degrees(l.ColdC), hours(l.SecondMin)))
	case math.IsInf(cold, 1):
		j.Running = fmt.Sprintf("it goes into the store at %s: it must be at %s within %s", degrees(end), degrees(l.ColdC), hours(l.SecondMin-used))
	}
	return j
}

func hours(minutes float64) string {
	if minutes < 90 {
		return fmt.Sprintf("%.0f min", minutes)
	}
	return fmt.Sprintf("%.1f h", minutes/60)
}
