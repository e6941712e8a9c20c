package models

import (
	"context"
	"time"
)

// Every method of the stores below returns a *Error with CodeNotFound where the site or thing does not exist, CodeConflict or
// CodePrecondition where said, and wraps any other failure. Accepted data is durable when the method, or the Within around it,
// has returned nil.

// SiteStore keeps the set-up of each site as one versioned document.
type SiteStore interface {
	// PutSetup stores a set-up under setup.Site.Code. ifMatch "" makes a new site and is CodeNeedsMatch where it exists; an
	// ETag that is not the current one is CodePrecondition. It returns the new ETag and whether the site was made.
	PutSetup(ctx context.Context, setup Setup, ifMatch string, at time.Time) (etag string, made bool, err error)
	Setup(ctx context.Context, site string) (setup Setup, etag string, err error)
	// SetupVersions returns the versions of a site's set-up, newest first, at most limit.
	SetupVersions(ctx context.Context, site string, limit int) ([]SetupVersion, error)
	Sites(ctx context.Context) ([]string, error)
}

// SalesStore keeps the counts of the point of sale.
type SalesStore interface {
	// PutCounts stores a whole post or nothing. With an idemKey that was used before it returns that answer and stores nothing;
	// the same key with another body (bodyHash) is CodeConflict.
	PutCounts(ctx context.Context, site string, post SalesPost, at time.Time, idemKey, bodyHash string) (SalesResult, error)
	// LateDays returns the days, UTC and in order, of which counts changed at or after since, more than LateAfter behind them.
	LateDays(ctx context.Context, site string, since time.Time) ([]Date, error)
	Counts(ctx context.Context, site string, f SalesFilter, p Page) (Rows[SalesRow], error)
	// LastCountAt returns the end of the latest window, zero where there is none.
	LastCountAt(ctx context.Context, site string) (time.Time, error)
}

// MappingStore keeps which POS item is which drink. A mapping counts back to the first count of its item.
type MappingStore interface {
	PutMappings(ctx context.Context, site string, m []ItemMapping) error
	Mappings(ctx context.Context, site string) ([]ItemMapping, error)
	Unmapped(ctx context.Context, site string) ([]UnmappedItem, error)
}

// DemandStore keeps the manager's word, apart from any forecast.
type DemandStore interface {
	PutExpectedDemand(ctx context.Context, site string, rows []ExpectedDemand, at time.Time) error
	ExpectedDemand(ctx context.Context, site string, from, to Date) ([]ExpectedDemand, error) // dates from ≤ d < to
}

// WeatherStore keeps observed hours and every issue of a forecast.
type WeatherStore interface {
	PutWeather(ctx context.Context, site string, w WeatherPost) error
	// Weather returns for each hour in [from, to) the observed value where known, else the newest forecast issued at or before
	// known (zero: any).
	Weather(ctx context.Context, site string, from, to, known time.Time) ([]WeatherRow, error)
}

// ForecastStore keeps what each site's past has taught the forecast.
type ForecastStore interface {
	// PutForecastState replaces what was kept of the site.
	PutForecastState(ctx context.Context, site string, s ForecastState) error
	// ForecastState returns what is kept; Learnt and Past are nil where nothing is.
	ForecastState(ctx context.Context, site string) (ForecastState, error)
}

// RecordStore keeps what was said before each day, and how well it did.
type RecordStore interface {
	// WordsSaid returns all words of the manager, those replaced and taken back too, in order of date and storing; dates from ≤ d < to.
	WordsSaid(ctx context.Context, site string, from, to Date) ([]SaidWord, error)
	// PutSaidDays keeps what the forecast said of days; what a day has already stays.
	PutSaidDays(ctx context.Context, site string, days []SaidDay) error
	SaidDays(ctx context.Context, site string, from, to Date) ([]SaidDay, error) // dates from ≤ d < to
	PutTrackRecord(ctx context.Context, site string, r TrackRecord) error
	// TrackRecord returns what PutTrackRecord kept; found is false where nothing is.
	TrackRecord(ctx context.Context, site string) (r TrackRecord, found bool, err error)
	PutPastReplay(ctx context.Context, site string, r Replay) error
	// PastReplay returns what PutPastReplay kept; CodeNotFound where nothing is.
	PastReplay(ctx context.Context, site string) (Replay, error)
}

// ProgressStore keeps how far jobs have come that take a while.
type ProgressStore interface {
	// PutProgress says where a job is, and returns whether somebody has asked for it to stop since its StartedAt.
	PutProgress(ctx context.Context, site string, p Progress) (stop bool, err error)
	Progress(ctx context.Context, site string) ([]Progress, error)
	// StopWork asks the job of a kind to stop; CodeNotFound where none is under way.
	StopWork(ctx context.Context, site, kind string) error
	DropProgress(ctx context.Context, site, kind string) error
}

// EventStore keeps events and closures; a put replaces the event of the same span and name.
type EventStore interface {
	PutEvents(ctx context.Context, site string, events []Event) error
	Events(ctx context.Context, site string, from, to time.Time) ([]Event, error) // those overlapping [from, to)
	// DropEvent takes back the event of this span and name; CodeNotFound where there is none.
	DropEvent(ctx context.Context, site string, from, to time.Time, name string) error
	PutOffSale(ctx context.Context, site string, rows []OffSale) error
	OffSale(ctx context.Context, site string, from, to time.Time) ([]OffSale, error)
	// DropOffSale takes back the span of a drink that starts at from; CodeNotFound where there is none.
	DropOffSale(ctx context.Context, site, drink string, from time.Time) error
}

// OutageStore keeps which equipment is away and when fewer, or more, batches can be started than the site's starts_per_slot.
type OutageStore interface {
	// PutOutages stores spans; one with the kind, code and from of a stored span replaces it, and with to at from takes it back.
	PutOutages(ctx context.Context, site string, rows []Outage) error
	Outages(ctx context.Context, site string, from, to time.Time) ([]Outage, error) // those overlapping [from, to)
	// PutAttention stores spans; one with the from of a stored span replaces it, and with to at from takes it back.
	PutAttention(ctx context.Context, site string, rows []Attention) error
	Attention(ctx context.Context, site string, from, to time.Time) ([]Attention, error) // those overlapping [from, to)
}

// StockStore keeps what was counted and what changed besides the tasks.
type StockStore interface {
	AddStockCount(ctx context.Context, site string, c StockCount, at time.Time) error
	// StockCounts returns counts with from ≤ CountedAt < to, oldest first.
	StockCounts(ctx context.Context, site string, from, to time.Time) ([]StockCount, error)
	AddStockChanges(ctx context.Context, site string, rows []StockChange, at time.Time) error
	StockChanges(ctx context.Context, site string, from, to time.Time) ([]StockChange, error)
}

// PlanStore keeps plan revisions with the request that each followed from.
type PlanStore interface {
	// AddPlan stores the next revision and returns the plan with Revision set. Where the latest plan has the same digest, that
	// one is returned and nothing is stored.
	AddPlan(ctx context.Context, site string, p Plan, r PlanRequest, at time.Time) (stored Plan, added bool, err error)
	Plan(ctx context.Context, site string, revision int) (Plan, PlanRequest, error)
	LatestPlan(ctx context.Context, site string) (Plan, PlanRequest, error)
	// PlanByDigest finds the latest revision if it has this digest.
	PlanByDigest(ctx context.Context, site, digest string) (Plan, bool, error)
	Plans(ctx context.Context, site string, p Page) (Rows[PlanHead], error) // newest first
	// SetAside notes that a proposal was put aside, or, with a zero time, that it counts again. CodeNotFound where there is no such plan.
	SetAside(ctx context.Context, site string, revision int, at time.Time) error
}

// PlanHead is a plan in a list.
type PlanHead struct {
	Revision   int       `json:"revision"`
	ComputedAt time.Time `json:"computed_at"`
	StoredAt   time.Time `json:"stored_at"`
	From       Date      `json:"from"`
	Days       int       `json:"days"`
	Digest     string    `json:"digest"`
	Text       string    `json:"text"`
	// SetAsideAt is when the manager put this proposal aside; null: nobody did.
	SetAsideAt *time.Time `json:"set_aside_at"`
}

// SheetStore keeps published prep sheets and the marks on their tasks.
type SheetStore interface {
	// PutSheets publishes sheets, each replacing the one of its date; the replaced ones are kept.
	PutSheets(ctx context.Context, site string, sheets []PrepSheet) error
	// Sheet returns the sheet of a date with the state of each task from its marks.
	Sheet(ctx context.Context, site string, date Date) (PrepSheet, error)
	Sheets(ctx context.Context, site string, from, to Date) ([]PrepSheet, error)
	// DroppedTasks returns the tasks of replaced sheets, of dates from ≤ d < to, that the sheet that stands no longer has.
	DroppedTasks(ctx context.Context, site string, from, to Date) ([]DroppedTask, error)
	// Task finds a task by id on the newest sheet that ever held it; replaced says that a newer sheet of its date no longer does.
	Task(ctx context.Context, id string) (site string, date Date, task Task, replaced bool, err error)
	// AddMark keeps a mark; the same key again for the task changes nothing and returns added false.
	AddMark(ctx context.Context, site string, m TaskMark, at time.Time) (added bool, err error)
	// Marks returns the marks on tasks of the dates from ≤ d < to, in order of arrival.
	Marks(ctx context.Context, site string, from, to Date) ([]TaskMark, error)
}

// WarningStore keeps the warnings of the day.
type WarningStore interface {
	// SyncWarnings makes the open warnings of a site be those of now: new keys are opened, known ones updated, missing ones among
	// the kinds given closed. It returns those that were opened.
	SyncWarnings(ctx context.Context, site string, kinds []string, now []OpenWarning, at time.Time) (opened []OpenWarning, err error)
	OpenWarnings(ctx context.Context, site string) ([]OpenWarning, error)
	// WarningsOpened returns those opened in from ≤ OpenedAt < to, closed ones too, oldest first.
	WarningsOpened(ctx context.Context, site string, from, to time.Time) ([]OpenWarning, error)
	AckWarning(ctx context.Context, site, id, by string, at time.Time) (OpenWarning, error)
}

// LiveStore keeps events for screens.
type LiveStore interface {
	AddEvent(ctx context.Context, e LiveEvent) (id int64, err error)
	EventsAfter(ctx context.Context, site string, id int64, limit int) ([]LiveEvent, error)
	LastEventID(ctx context.Context, site string) (int64, error)
	// Changed is closed when an event of the site was committed after the call by this process.
	Changed(site string) <-chan struct{}
}

// TokenStore keeps tokens, hashed.
type TokenStore interface {
	// AddToken makes a token and returns its secret, which is not kept.
	AddToken(ctx context.Context, t Token, at time.Time) (stored Token, secret string, err error)
	// TokenBySecret finds a token that is not revoked; CodeUnauthorised where there is none.
	TokenBySecret(ctx context.Context, secret string, at time.Time) (Token, error)
	TokenByID(ctx context.Context, id string) (Token, error)
	Tokens(ctx context.Context) ([]Token, error)
	RevokeToken(ctx context.Context, id string, at time.Time) error
}

// SessionStore keeps browser sessions (the shape that the session library asks for).
type SessionStore interface {
	FindCtx(ctx context.Context, token string) (data []byte, found bool, err error)
	CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error
	DeleteCtx(ctx context.Context, token string) error
	// NameSession says whose a session that was committed is.
	NameSession(ctx context.Context, token string, s Session) error
	// Sessions returns the sessions of people and access keys that have not expired, newest first.
	Sessions(ctx context.Context) ([]Session, error)
	// EndSession ends a session by its id; CodeNotFound where there is none.
	EndSession(ctx context.Context, id string) error
}

// Queue takes jobs. A job whose (Kind, Site, Key) is queued, running or done already is not taken again.
type Queue interface {
	Enqueue(ctx context.Context, j Job) (added bool, err error)
}

// Store is everything that is kept. Within runs fn in one transaction: all of it is durable when Within returns nil, none of
// it happened otherwise; fn must use the Store it is given.
type Store interface {
	SiteStore
	SalesStore
	MappingStore
	DemandStore
	WeatherStore
	ForecastStore
	RecordStore
	ProgressStore
	EventStore
	OutageStore
	StockStore
	PlanStore
	SheetStore
	WarningStore
	LiveStore
	TokenStore
	ScreenStore
	CalendarKeyStore
	PersonStore
	AuditStore
	WebhookStore
	Queue
	Within(ctx context.Context, fn func(Store) error) error
	// Read runs fn on one consistent state of the data.
	Read(ctx context.Context, fn func(Store) error) error
	Ready(ctx context.Context) error
	Close() error
}

// Work does a job. It may read and compute at leisure; what it returns is run in the transaction that marks the job done, so
// that its effect and its completion are one. A nil effect only marks it done. An error has the job tried again with backoff.
type Work func(ctx context.Context, j Job) (effect func(tx Store) error, err error)

// Worker runs jobs from the queue.
type Worker interface {
	// Run works until ctx ends, then finishes or hands back what it holds.
	Run(ctx context.Context, work map[string]Work) error
}
