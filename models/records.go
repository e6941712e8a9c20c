package models

import (
	"cmp"
	"encoding/json"
	"time"
)

// SiteSummary is a site in a list.
type SiteSummary struct {
	Code string `json:"code"`
	Name string `json:"name"`
}

// Title is the site's name or, without one, its code.
func (s SiteSummary) Title() string { return cmp.Or(s.Name, s.Code) }

// SiteFilter selects sites. Zero fields match everything.
type SiteFilter struct {
	Sites  []string // only these; nil: all
	Search string   // words that each begin or are within the name or the code; case and accents do not matter
	ByName bool     // the order of the list: by name rather than by code
}

// SalesCount is the number of an item sold in a window, unique by (site, source, item, window start, window end).
type SalesCount struct {
	Item        string    `json:"item" validate:"min=1,max=200"`
	WindowStart time.Time `json:"window_start"`
	WindowEnd   time.Time `json:"window_end"`
	Count       float64   `json:"count" validate:"gte=0,lte=1e6"`
}

// SalesPost is the body of POST …/sales-counts.
type SalesPost struct {
	Source string       `json:"source" validate:"min=1,max=100"`
	Counts []SalesCount `json:"counts" opt:"false" validate:"max=5000,dive"`
}

// LateAfter is the age of a window from which a changed count is late: the nightly refit re-reads newer days anyway.
const LateAfter = 12 * 24 * time.Hour

// MaxAhead is how far a count, stock or a mark may be ahead of the service's clock: devices' clocks differ a little. What is further
// ahead comes from a wrong clock and would hide later reports.
const MaxAhead = 15 * time.Minute

// MaxSalesRows is the maximum number of rows in one post of sales counts.
const MaxSalesRows = 5000

// SalesResult is the outcome of a post: each row is New, Replaced or Unchanged, and Unmapped counts those whose item has no mapping.
type SalesResult struct {
	New       int `json:"new"`
	Replaced  int `json:"replaced"`
	Unchanged int `json:"unchanged"`
	Unmapped  int `json:"unmapped"`
}

// SalesRow is a stored count. Drink is nil while the item is unmapped or ignored.
type SalesRow struct {
	Source string `json:"source"`
	SalesCount
	Drink      *string   `json:"drink"`
	Factor     float64   `json:"factor"` // servings per count; 1 while unmapped
	ReceivedAt time.Time `json:"received_at"`
}

// SalesFilter selects counts whose windows overlap [From, To). Zero fields match everything.
type SalesFilter struct {
	Source, Item string
	From, To     time.Time
}

// Page requests a page of a list. Limit 0 means DefaultLimit; more than MaxLimit is reduced to it. Cursor is opaque.
type Page struct {
	Limit  int
	Cursor string
}

// Limits of a Page.
const (
	DefaultLimit = 500
	MaxLimit     = 5000
)

// Rows is a page of a list; Next is nil on the last page.
type Rows[T any] struct {
	Rows []T     `json:"rows"`
	Next *string `json:"next"`
}

// ItemMapping maps a POS item to a drink, or says that it is none, from a service day on. An item's mapping lasts until its next one.
type ItemMapping struct {
	Source string  `json:"source" validate:"min=1,max=100"`
	Item   string  `json:"item" validate:"min=1,max=200"`
	Drink  *string `json:"drink" opt:"null" validate:"omitempty,code"`  // null: ignored, since it isn't a drink that is planned
	Factor float64 `json:"factor" default:"1" validate:"gt=0,lte=1000"` // servings per count, e.g. 1.5 for a large
	From   *Date   `json:"from"`                                        // first service day; null: all counts before the next mapping
}

// UnmappedItem is a POS item without a mapping.
type UnmappedItem struct {
	Source    string    `json:"source"`
	Item      string    `json:"item"`
	Count     float64   `json:"count"`
	FirstSeen time.Time `json:"first_seen"`
	LastSeen  time.Time `json:"last_seen"`
}

// ExpectedDemand is the manager's forecast in servings. Expected nil withdraws it.
type ExpectedDemand struct {
	Date     Date     `json:"date"`
	DayPart  string   `json:"day_part" validate:"code"`
	Drink    string   `json:"drink" validate:"code"`
	Expected *float64 `json:"expected" validate:"omitempty,gte=0,lte=1e6"`
	P10      *float64 `json:"p10" validate:"omitempty,gte=0,lte=1e6"`
	P90      *float64 `json:"p90" validate:"omitempty,gte=0,lte=1e6"`
	Note     string   `json:"note" opt:"true" validate:"max=500"`
}

// WeatherPost is the body of PUT …/weather. Observed hours and each issue of a forecast are kept apart.
type WeatherPost struct {
	Kind     string        `json:"kind" validate:"oneof=forecast observed"`
	IssuedAt time.Time     `json:"issued_at"`
	Hours    []WeatherHour `json:"hours" opt:"false" validate:"max=5000,dive"`
}

// Kinds of weather.
const (
	WeatherForecast = "forecast"
	WeatherObserved = "observed"
)

// WeatherRow is a stored hour of weather.
type WeatherRow struct {
	Kind     string    `json:"kind"`
	IssuedAt time.Time `json:"issued_at"`
	ByHand   bool      `json:"by_hand,omitempty"` // moved to the high that a manager entered for its date
	WeatherHour
}

// OffSale is a span in which a drink was not on sale, so that its zero sales are not zero demand. To nil: until further notice.
type OffSale struct {
	Drink string     `json:"drink" validate:"code"`
	From  time.Time  `json:"from"`
	To    *time.Time `json:"to"`
}

// SiteEvents is everything entered about a span of days apart from expected demand.
type SiteEvents struct {
	Events    []Event     `json:"events" validate:"dive"`
	Outages   []Outage    `json:"outages" validate:"dive"`
	Attention []Attention `json:"attention" validate:"dive"`
	OffSale   []OffSale   `json:"off_sale" validate:"dive"`
}

// StockCount is the body of POST …/stock-counts.
type StockCount struct {
	CountedAt time.Time  `json:"counted_at"`
	IceG      *float64   `json:"ice_g,omitempty" validate:"omitempty,gte=0,lte=1e8"`
	PlainIceG *float64   `json:"plain_ice_g,omitempty" validate:"omitempty,gte=0,lte=1e8"`
	TankL     *float64   `json:"tank_l,omitempty" validate:"omitempty,gte=0,lte=1e6"`
	Beverages []Stock    `json:"beverages,omitempty" validate:"max=500,dive"`
	Lots      []LotCount `json:"lots,omitempty" validate:"max=500,dive"`
}

// LotCount is the counted stock of a bean lot.
type LotCount struct {
	Lot   string  `json:"lot" validate:"code"`
	Grams float64 `json:"grams" validate:"gte=0,lte=1e7"`
	Place string  `json:"place" validate:"oneof=shelf freezer"`
}

// SetupVersion is a stored version of a set-up. Versions are immutable.
type SetupVersion struct {
	Version  int
	StoredAt time.Time
	Setup    Setup
}

// StockChange is beverage or ice made, discarded or bought in outside the tasks.
type StockChange struct {
	Kind     string    `json:"kind" validate:"oneof=made discarded bought_in"`
	Beverage *string   `json:"beverage,omitempty"`
	IceG     *float64  `json:"ice_g,omitempty" validate:"omitempty,gte=0,lte=1e8"`
	G        *float64  `json:"g,omitempty" validate:"omitempty,gte=0,lte=1e7"`
	At       time.Time `json:"at"`
	Reason   string    `json:"reason,omitempty" opt:"true" validate:"max=500"`
}

// OpenWarning is a warning over its life: opened once, updated, closed when the risk is gone.
type OpenWarning struct {
	ID       string     `json:"id"`
	Key      string     `json:"key"` // kind and subject; at most one open warning per key
	OpenedAt time.Time  `json:"opened_at"`
	SeenAt   time.Time  `json:"seen_at"`
	ClosedAt *time.Time `json:"closed_at"`
	AckedAt  *time.Time `json:"acked_at"`
	AckedBy  string     `json:"acked_by,omitempty"`
	Revision int        `json:"revision"` // of the plan that raised it; 0: none
	Warning
}

// LiveEvent notifies screens of a change. IDs increase within a site and are never reused.
type LiveEvent struct {
	ID   int64           `json:"id"`
	Site string          `json:"site"`
	Kind string          `json:"kind"` // plan, sheet, mark, warning, stock, setup, demand
	At   time.Time       `json:"at"`
	Data json.RawMessage `json:"data"`
}

// Scopes of a token. Manage includes the others; kitchen includes read.
const (
	ScopeManage  = "manage"
	ScopeKitchen = "kitchen"
	ScopeSales   = "sales"
	ScopeRead    = "read"
)

// Kinds of holder of a Token.
const (
	TokenKey    = "key" // an access key
	TokenScreen = "screen"
	TokenPerson = "person"
)

// Token authorises a person, a screen or a program. Of its secret only a hash is stored.
type Token struct {
	ID        string     `json:"id"`
	Kind      string     `json:"kind"`
	Name      string     `json:"name"`
	Scopes    []string   `json:"scopes"`
	Site      string     `json:"site"`   // empty: that of the groups or, without groups, the whole organisation
	Groups    []string   `json:"groups"` // codes of groups whose sites it reaches, beside site
	CreatedAt time.Time  `json:"created_at"`
	RevokedAt *time.Time `json:"revoked_at"`
	UsedAt    *time.Time `json:"used_at"`
	Sandbox   bool       `json:"sandbox"` // its requests are checked and answered, but nothing is stored

	groupSites []string // the sites of the groups, in order
}

// May reports whether the token grants a scope at a site; site "" means the organisation as a whole.
func (t Token) May(scope, site string) bool { return t.Covers(site) && t.Has(scope) }

// Has reports whether the token grants a scope wherever it reaches.
func (t Token) Has(scope string) bool {
	if t.RevokedAt != nil {
		return false
	}
	for _, s := range t.Scopes {
		if s == scope || s == ScopeManage || (s == ScopeKitchen && scope == ScopeRead) {
			return true
		}
	}
	return false
}

// Job is background work. It runs once for each (Kind, Site, Key), or each time that it is queued if it has no key.
type Job struct {
	Kind  string          `json:"kind"`
	Site  string          `json:"site"`
	Key   string          `json:"key"` // idempotency key: a service day, a revision, an instant; "": none
	Args  json.RawMessage `json:"args,omitempty"`
	RunAt time.Time       `json:"run_at,omitzero"` // zero: now
	// TimedOut is how many earlier attempts ran out of time; set by the worker.
	TimedOut int `json:"-"`
}
