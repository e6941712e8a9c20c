package chill

import "math"

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

// MinutesTo is the time from the start of the first stage until tempC is reached; +Inf if it is not.
func MinutesTo(stages []Stage, tempC float64) float64 {
	at := 0.0
	for _, s := range stages {
		if m := s.reached(tempC); !math.IsInf(m, 1) {
			return at + m
		}
		at += s.Minutes
	}
	return math.Inf(1)
}

// CoolingFault is how a cooling process exceeds a limit, or what the rest of it must still meet.
type CoolingFault int

// The values of CoolingFault, with the fields of the CoolingFinding.
const (
	StillHot    CoolingFault = iota + 1 // the process ends above MiddleC, after longer than FirstMin: ends at TempC, took Minutes
	FirstSlow                           // it took longer than FirstMin to MiddleC: from TempC, took Minutes
	SecondSlow                          // it takes longer than SecondMin to ColdC: from TempC
	StoredWarm                          // it ends at TempC, above MiddleC: Minutes left to reach MiddleC, then SecondMin to ColdC
	StoredAbove                         // it ends at TempC, above ColdC: Minutes left to reach ColdC
)

// CoolingFinding is a fault with its temperature, °C, and its time, min. Minutes is 0 for SecondSlow: it may never reach ColdC.
type CoolingFinding struct {
	Fault   CoolingFault
	TempC   float64
	Minutes float64
}

// CoolingJudgement is the result of checking a cooling process against the limits.
type CoolingJudgement struct {
	Broken  []CoolingFinding // one for each limit exceeded
	Running *CoolingFinding  // StoredWarm or StoredAbove: the clock keeps running in the cold store; nil if it has stopped
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
	hot, middle, cold := MinutesTo(stages, l.HotC), MinutesTo(stages, l.MiddleC), MinutesTo(stages, l.ColdC)
	if math.IsInf(hot, 1) {
		hot = spent
	}
	if math.IsInf(middle, 1) {
		if used := spent - hot; used > l.FirstMin {
			j.Broken = append(j.Broken, CoolingFinding{StillHot, end, used})
		} else {
			j.Running = &CoolingFinding{StoredWarm, end, l.FirstMin - used}
		}
		return j
	}
	if first := middle - hot; start > l.MiddleC && first > l.FirstMin {
		j.Broken = append(j.Broken, CoolingFinding{FirstSlow, min(start, l.HotC), first})
	}
	switch used := min(cold, spent) - middle; {
	case used > l.SecondMin:
		j.Broken = append(j.Broken, CoolingFinding{Fault: SecondSlow, TempC: min(start, l.MiddleC)})
	case math.IsInf(cold, 1):
		j.Running = &CoolingFinding{StoredAbove, end, l.SecondMin - used}
	}
	return j
}
