package models

import (
	"cmp"
	"context"
	"slices"
	"time"
)

// SiteState is how one site stands for its next service day: a row of the list of all shops. It is computed after each change at the site.
type SiteState struct {
	Site       string    `json:"site"`
	Name       string    `json:"name"`
	ComputedAt time.Time `json:"computed_at"`
	Today      Date      `json:"today"`              // the service day at computed_at
	NextDay    Date      `json:"next_day,omitempty"` // the next one on which it opens; absent: closed for a fortnight

	HighC  *float64 `json:"high_c"` // forecast for the next service day; null: unknown
	Drinks *float64 `json:"drinks"` // expected on it; null: unknown

	Plan       string     `json:"plan"` // none, stale (not of the next service day, or over a day old) or made
	Revision   int        `json:"revision"`
	PlannedAt  *time.Time `json:"planned_at"`
	Published  *time.Time `json:"published_at"` // the sheet of the next service day; null: not yet
	PublishDue *time.Time `json:"publish_due"`  // when it is due

	Warning *StateWarning `json:"warning"` // the worst open one; null: none

	CountsAt  *time.Time `json:"counts_at"`  // when sales counts last arrived
	WeatherAt *time.Time `json:"weather_at"` // when the forecast of the next service day was issued
	StockAt   *time.Time `json:"stock_at"`   // when ice was last counted

	IceG            *float64   `json:"ice_g"`      // ice for drinks now, by the plan; null: unknown
	IceOutAt        *time.Time `json:"ice_out_at"` // when it may run out; null: not likely
	IceOutChancePct float64    `json:"ice_out_chance_pct"`

	TasksDue  int `json:"tasks_due"`  // of today's sheet so far
	TasksDone int `json:"tasks_done"` // of these, started, made or skipped

	Troubles []Trouble `json:"troubles"` // the worst first; empty: nothing to do
	Rank     int       `json:"rank"`     // of the worst: the list is sorted by it, the highest first

	// How the site writes quantities and times.
	Timezone string `json:"timezone"`
	Units    Units  `json:"units"`
	Language string `json:"language"`
}

// Plans of a SiteState.
const (
	PlanNone  = "none"
	PlanStale = "stale"
	PlanMade  = "made"
)

// StateWarning is an open warning in a SiteState.
type StateWarning struct {
	Kind      string    `json:"kind"`
	Grade     string    `json:"grade"`
	At        time.Time `json:"at"`
	ChancePct float64   `json:"chance_pct"`
	Cause     string    `json:"cause"` // a sentence in the site's language
	Acked     bool      `json:"acked"`
}

// Trouble is a reason why a site is high in the list of all shops.
type Trouble struct {
	Kind string     `json:"kind"`
	At   *time.Time `json:"at"` // since, or when it is expected; null: does not matter
	N    int        `json:"n"`  // tasks
}

// Kinds of trouble.
const (
	TroubleActNow       = "act_now"       // a warning to act on now
	TroubleNotPublished = "not_published" // the next service day's sheet is overdue
	TroubleActToday     = "act_today"     // a warning to act on today
	TroubleNoPlan       = "no_plan"       // there has never been a plan
	TroubleNotFollowed  = "not_followed"  // tasks of today's sheet have no mark long after their time
	TroubleNoCounts     = "no_counts"     // no sales counts from a whole opening time, at a site that has sent some
	TroubleNoWeather    = "no_weather"    // no forecast for the next service day, or one that is over a day old
	TroubleNote         = "note"          // a warning that needs no action today
)

var troubleRanks = map[string]int{TroubleActNow: 900, TroubleNotPublished: 800, TroubleActToday: 700, TroubleNoPlan: 600, TroubleNotFollowed: 500,
	TroubleNoCounts: 400, TroubleNoWeather: 300, TroubleNote: 100}

// ackedLess is by how much a warning that somebody has acknowledged ranks lower, still above the next kind.
const ackedLess = 50

// rank of a trouble: that of its kind, more for more tasks.
func (t Trouble) rank(w *StateWarning) int {
	r := troubleRanks[t.Kind] + min(t.N, 49)
	if w != nil && w.Acked && (t.Kind == TroubleActNow || t.Kind == TroubleActToday) {
		r -= ackedLess
	}
	return r
}

// SetTroubles sorts the troubles, the worst first, and sets the rank.
func (s *SiteState) SetTroubles(list []Trouble) {
	slices.SortStableFunc(list, func(a, b Trouble) int { return cmp.Compare(b.rank(s.Warning), a.rank(s.Warning)) })
	s.Troubles, s.Rank = append([]Trouble{}, list...), 0
	if len(list) > 0 {
		s.Rank = list[0].rank(s.Warning)
	}
}

// SiteRecord is a state with what the lists across shops need of the site's latest plan, so that none of them reads plans.
type SiteRecord struct {
	State SiteState  `json:"state"`
	Needs []SiteNeed `json:"needs"`
	Days  []Date     `json:"days"` // those that the latest plan has, from today on
	Lots  []SiteLot  `json:"lots"` // lots of beans in the settings

	Closed []Date `json:"closed"` // days of the next two weeks on which it does not open
}

// Kinds of SiteNeed.
const (
	NeedBeans  = "beans"
	NeedIce    = "ice"
	NeedSupply = "supply" // milk, cups: supplies of the settings
)

// SiteNeed is what a site's latest plan needs of something on a day, in the unit g, ml or piece.
type SiteNeed struct {
	Date    Date       `json:"date"`
	Kind    string     `json:"kind"`
	Name    string     `json:"name"` // code of the coffee, name of the supply; empty: ice
	Unit    string     `json:"unit"`
	Amount  float64    `json:"amount"` // used on the day; of ice: to be bought
	Short   float64    `json:"short"`  // of it, more than is there
	OrderBy *time.Time `json:"order_by,omitempty"`
}

// SiteLot is a lot of beans at a site.
type SiteLot struct {
	Coffee string `json:"coffee"`
	Lot    string `json:"lot"`
}

// SiteStateFilter selects states: those of the sites that a token reaches, of a group, and with a text in their name or code.
type SiteStateFilter struct {
	Among []string // sites; nil: all
	Group string   // code; "": any
	Text  string
}

// StaleState is a site whose state has to be computed.
type StaleState struct {
	Site    string
	Changes int64 // how many there have been, so that one during the computation is not lost
}

// SiteStateStore stores the states of sites.
type SiteStateStore interface {
	// StaleStates returns at most limit sites that have changed since their state was computed, or whose time to be looked at has come.
	StaleStates(ctx context.Context, now time.Time, limit int) ([]StaleState, error)
	// PutSiteState stores a site's record. It is looked at again at the given time, or at once if the site has changed meanwhile.
	PutSiteState(ctx context.Context, of StaleState, r SiteRecord, again time.Time) error
	// SiteStates returns a page of states by rank, the highest first, then by code.
	SiteStates(ctx context.Context, f SiteStateFilter, p Page) (Rows[SiteState], error)
	// SitesOf returns the codes of all sites of a filter, also of those without a state yet.
	SitesOf(ctx context.Context, f SiteStateFilter) ([]string, error)
	// SiteRecords returns all records by code.
	SiteRecords(ctx context.Context, f SiteStateFilter) ([]SiteRecord, error)
}
