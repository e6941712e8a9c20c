package replay

import (
	"strconv"

	"hotday/models"
	"hotday/planner/demand/forecast"
)

// Method is a way of deciding how much to prepare.
type Method int

// The methods, in the order of every list of this package. A new one needs an entry in ways and in methodKeys.
const (
	Plan      Method = iota // the plan of the evening before, followed all day, its choices answered from what is left
	NoChoices               // the same with no batch left to the day
	Replanned               // the plan, replanned during the day from the sales so far
	Par
	Foresight
	methods
)

// methodCodes name the methods in CSV files and in the API.
var methodCodes = [methods]string{"plan", "plan, no choices", "plan, replanned", "par sheet", "perfect foresight"}

func (m Method) String() string { return methodCodes[m] }

// way is how a method makes its sheets.
type way struct {
	demand      func(r *replayer, req *models.PlanRequest, e *evening, p Policy) // adds the demand that the sheet is made for
	brief       bool                                                             // with a share of the budget: no levels are tried, and many settings are replayed
	choices     bool                                                             // batches may be left to the day
	replans     bool                                                             // also every two hours of opening
	fillsMoulds bool                                                             // refills every empty mould rather than those of its sheet
}

var ways = [methods]way{
	Plan:      {demand: forecastDemand, choices: true},
	NoChoices: {demand: forecastDemand},
	Replanned: {demand: forecastDemand, choices: true, replans: true},
	Par:       {demand: parDemand, brief: true, fillsMoulds: true},
	Foresight: {demand: actualDemand},
}

// Policy is a method at a setting, which runs a kitchen of its own through the season: a point in the plane of coffee poured away
// against drinks missed.
type Policy struct {
	Method Method
	// Setting is the cushion by which a Par sheet's amounts are multiplied, and the service level of Plan and Replanned, %. 0 is the
	// method as it is: the usual par sheet, the levels that the costs ask for.
	Setting float64
	Change  *Change // of the shop; nil: as it is
}

// Change is a change of a shop's equipment or recipes, under which the past days are replayed.
type Change struct {
	Kind   string                          // of models.Advice
	Was    float64                         // the present size, in the unit of Amount
	Amount float64                         // that the change adds, in the unit of Kind's models.Advice
	Apply  func(models.Setup) models.Setup // must not write to lists of the set-up it is given
}

// String names a policy in CSV files and in the API: "par sheet × 1.2", "plan at 80%".
func (p Policy) String() string {
	s := p.Method.String()
	if p.Setting > 0 {
		if p.Method == Par {
			s += " × " + plainNumber(p.Setting)
		} else {
			s += " at " + plainNumber(p.Setting) + "%"
		}
	}
	if p.Change != nil {
		s += ", " + p.Change.Kind
	}
	return s
}

// plainNumber writes a setting with as many decimals as it has.
func plainNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Cushions are the settings of the par sheet among which the best in hindsight is chosen. Below 1 it prepares less than it sold in past
// weeks, which is best where customers choose another drink.
var Cushions = []float64{0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.5}

// ServiceLevels are the settings of the plan's curve, %.
var ServiceLevels = []float64{35, 50, 65, 80, 90, 97}

// policies lists those of a replay: each method as it is, then their other settings and changes.
func (o *Options) policies() []Policy {
	var out []Policy
	for _, m := range o.methods() {
		out = append(out, Policy{Method: m})
	}
	for _, c := range o.Cushions {
		if c != 1 {
			out = append(out, Policy{Method: Par, Setting: c})
		}
	}
	for _, level := range o.ServiceLevels {
		out = append(out, Policy{Method: Plan, Setting: level})
	}
	for i := range o.Changes {
		out = append(out, Policy{Method: Plan, Change: &o.Changes[i]})
	}
	return out
}

// evening is what a kitchen's sheets of a day rest on.
type evening struct {
	day       int   // index in Season.Days
	days      []Day // that the sheets plan, the day itself first
	forecasts [][]forecast.Day
}

func forecastDemand(r *replayer, req *models.PlanRequest, e *evening, p Policy) {
	r.s.addForecast(req, r.rows, e.days, e.forecasts)
	req.DemandCorrelation = r.history.correlation()
	if p.Setting > 0 {
		req.ServiceLevelPct = &p.Setting
	}
}

func parDemand(r *replayer, req *models.PlanRequest, e *evening, p Policy) {
	for k := range e.days {
		servings := r.history.par(&e.days[k], weatherAsForecast(e.days, k, r.s.Site.Location()))
		if p.Setting > 0 {
			for i := range servings {
				servings[i] *= p.Setting
			}
		}
		r.s.addExact(req, r.rows, &e.days[k], servings)
	}
}

func actualDemand(r *replayer, req *models.PlanRequest, e *evening, _ Policy) {
	for k := range e.days {
		r.s.addExact(req, r.rows, &e.days[k], r.s.demandOf(&e.days[k], r.rows))
	}
}
