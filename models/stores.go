package models

import (
	"context"
	"time"
)

// Every store method returns an *Error with CodeNotFound if the site or object does not exist, other codes as documented, and wraps
// any other failure. Data is durable once the method, or the Within around it, has returned nil.

// SiteStore stores each site's set-up as a versioned document.
type SiteStore interface {
	// PutSetup stores a set-up under setup.Site.Code. ifMatch "" creates the site, CodeNeedsMatch if it exists; an ETag other than
	// the current one is CodePrecondition. It returns the new ETag and whether the site was created.
	PutSetup(ctx context.Context, setup Setup, ifMatch string, at time.Time) (etag string, created bool, err error)
	Setup(ctx context.Context, site string) (setup Setup, etag string, err error)
	// SetupETag returns the ETag of the current set-up, which costs less than to read it.
	SetupETag(ctx context.Context, site string) (string, error)
	// SetupVersions returns at most limit versions of a site's set-up, newest first.
	SetupVersions(ctx context.Context, site string, limit int) ([]SetupVersion, error)
	Sites(ctx context.Context) ([]string, error)
	// SiteList returns the sites that a filter selects, by code or, with ByName, by name.
	SiteList(ctx context.Context, f SiteFilter, p Page) (Rows[SiteSummary], error)
}

// SalesStore stores the sales counts from the point of sale.
type SalesStore interface {
	// PutCounts stores a post atomically. A repeated idemKey returns the first result and stores nothing; with another body
	// (bodyHash) it is CodeConflict.
	PutCounts(ctx context.Context, site string, post SalesPost, at time.Time, idemKey, bodyHash string) (SalesResult, error)
	// LateDays returns, in order, the UTC days whose counts changed at or after since and more than LateAfter after the day.
	LateDays(ctx context.Context, site string, since time.Time) ([]Date, error)
	Counts(ctx context.Context, site string, f SalesFilter, p Page) (Rows[SalesRow], error)
	// CountsReceivedAt returns when counts last arrived, by the service's clock, or zero if there are none.
	CountsReceivedAt(ctx context.Context, site string) (time.Time, error)
}

// MappingStore maps POS items to drinks. Without a date, a mapping applies to all counts of its item, past ones too.
type MappingStore interface {
	// PutMappings stores mappings, replacing those with the same source, item and date.
	PutMappings(ctx context.Context, site string, m []ItemMapping) error
	// DropMappings deletes the mappings of an item, which is then unmapped; with from, only the one from that day. CodeNotFound if there
	// is none.
	DropMappings(ctx context.Context, site, source, item string, from *Date) error
	// Mappings returns the mappings by source, item and date.
	Mappings(ctx context.Context, site string) ([]ItemMapping, error)
	// Unmapped returns the items that have counts but no mapping.
	Unmapped(ctx context.Context, site string) ([]UnmappedItem, error)
}

// DemandStore stores the manager's expected demand, separate from any forecast.
type DemandStore interface {
	PutExpectedDemand(ctx context.Context, site string, rows []ExpectedDemand, at time.Time) error
	ExpectedDemand(ctx context.Context, site string, from, to Date) ([]ExpectedDemand, error) // dates from ≤ d < to
}

// WeatherStore stores observed weather and every issue of the forecast.
type WeatherStore interface {
	PutWeather(ctx context.Context, site string, w WeatherPost) error
	// Weather returns for each hour in [from, to) the observed value or else the newest forecast issued at or before known
	// (zero: no limit), as WithHighs has them for the highs that held then.
	Weather(ctx context.Context, site string, from, to, known time.Time) ([]WeatherRow, error)
	// ThinWeather deletes forecasts of the hours in [from, to) that a newer one of the same half day of issue replaced.
	ThinWeather(ctx context.Context, site string, from, to time.Time) error
	// PutWeatherHigh sets the high that a manager expects on a date from an instant on; nil clears it.
	PutWeatherHigh(ctx context.Context, site string, d Date, highC *float64, at time.Time) error
	// WeatherHighs returns the highs that hold now, of dates in [from, to), by date.
	WeatherHighs(ctx context.Context, site string, from, to Date) ([]WeatherHigh, error)
	// WeatherFetch returns the state of fetching the site's forecast, the zero value before the first attempt.
	WeatherFetch(ctx context.Context, site string) (WeatherFetch, error)
	PutWeatherFetch(ctx context.Context, site string, f WeatherFetch) error
}

// ForecastStore stores each site's fitted forecast.
type ForecastStore interface {
	PutForecastState(ctx context.Context, site string, s ForecastState) error
	// ForecastState returns the stored state; Learnt and Past are nil if there is none.
	ForecastState(ctx context.Context, site string) (ForecastState, error)
}

// RecordStore stores the forecasts made before each day, their accuracy, and the latest replay.
type RecordStore interface {
	// ExpectedDemandHistory returns every entry of expected demand, including replaced and withdrawn ones, by date and time of storing; dates
	// from ≤ d < to.
	ExpectedDemandHistory(ctx context.Context, site string, from, to Date) ([]ExpectedDemandEntry, error)
	// PutDayForecasts stores the forecasts for days that have none yet and deletes those too old to be compared.
	PutDayForecasts(ctx context.Context, site string, days []DayForecast) error
	DayForecasts(ctx context.Context, site string, from, to Date) ([]DayForecast, error) // dates from ≤ d < to
	PutTrackRecord(ctx context.Context, site string, r TrackRecord) error
	TrackRecord(ctx context.Context, site string) (r TrackRecord, found bool, err error)
	PutPastReplay(ctx context.Context, site string, r Replay) error
	// PastReplay returns the latest replay; CodeNotFound if there is none.
	PastReplay(ctx context.Context, site string) (Replay, error)
}

// BrewStore stores brews that were weighed.
type BrewStore interface {
	// PutMeasuredBrews stores brews; one of the same coffee and time is replaced.
	PutMeasuredBrews(ctx context.Context, site string, list []MeasuredBrew) error
	// MeasuredBrews returns the newest MaxMeasuredBrews brews of a coffee, oldest first.
	MeasuredBrews(ctx context.Context, site, coffee string) ([]MeasuredBrew, error)
	// DeleteMeasuredBrew deletes one; CodeNotFound if there is none of that coffee and time.
	DeleteMeasuredBrew(ctx context.Context, site, coffee string, at time.Time) error
}

// LearntStore stores the changes of a set-up that followed from what its marks and counts say.
type LearntStore interface {
	// AddLearntChange stores a change and returns it with its ID.
	AddLearntChange(ctx context.Context, site string, c LearntChange) (LearntChange, error)
	// LearntChanges returns at most MaxLearntChanges of a site's changes, newest first.
	LearntChanges(ctx context.Context, site string) ([]LearntChange, error)
	// UndoLearntChange records who undid a change; CodeNotFound if there is none, CodeConflict if it is undone already.
	UndoLearntChange(ctx context.Context, site, id, by string, at time.Time) error
}

// ProgressStore stores the progress of long-running jobs.
type ProgressStore interface {
	// PutProgress records a job's progress and returns whether it was asked to stop since its StartedAt, or a job of its kind that
	// started later has taken its place: then nothing is recorded.
	PutProgress(ctx context.Context, site string, p Progress) (stop bool, err error)
	Progress(ctx context.Context, site string) ([]Progress, error)
	// StopWork asks the running job of a kind to stop, and forgets one that failed; CodeNotFound if there is neither.
	StopWork(ctx context.Context, site, kind string) error
	// DropProgress removes the progress of the job with a kind and key, which has ended.
	DropProgress(ctx context.Context, site, kind, key string) error
}

// EventStore stores events, closures and off-sale spans. A put replaces the event with the same span and name.
type EventStore interface {
	PutEvents(ctx context.Context, site string, events []Event) error
	Events(ctx context.Context, site string, from, to time.Time) ([]Event, error) // those overlapping [from, to)
	// DropEvent deletes the event with this span and name; CodeNotFound if there is none.
	DropEvent(ctx context.Context, site string, from, to time.Time, name string) error
	PutOffSale(ctx context.Context, site string, rows []OffSale) error
	OffSale(ctx context.Context, site string, from, to time.Time) ([]OffSale, error)
	// DropOffSale deletes a drink's span that starts at from; CodeNotFound if there is none.
	DropOffSale(ctx context.Context, site, drink string, from time.Time) error
}

// OutageStore stores outages of equipment and spans that override the site's starts_per_slot.
type OutageStore interface {
	// PutOutages stores spans. A span replaces the stored one with the same kind, code and from; an empty one (to at from) deletes it.
	PutOutages(ctx context.Context, site string, rows []Outage) error
	Outages(ctx context.Context, site string, from, to time.Time) ([]Outage, error) // those overlapping [from, to)
	// PutAttention stores spans. A span replaces the stored one with the same from; an empty one (to at from) deletes it.
	PutAttention(ctx context.Context, site string, rows []Attention) error
	Attention(ctx context.Context, site string, from, to time.Time) ([]Attention, error) // those overlapping [from, to)
}

// StockStore stores stock counts and stock changes outside the tasks.
type StockStore interface {
	AddStockCount(ctx context.Context, site string, c StockCount, at time.Time) error
	// StockCounts returns counts with from ≤ CountedAt < to, oldest first.
	StockCounts(ctx context.Context, site string, from, to time.Time) ([]StockCount, error)
	// DropStockCount deletes one thing from the counts of an instant; CodeNotFound if none of them has it.
	DropStockCount(ctx context.Context, site string, countedAt time.Time, x Counted) error
	AddStockChanges(ctx context.Context, site string, rows []StockChange, at time.Time) error
	StockChanges(ctx context.Context, site string, from, to time.Time) ([]StockChange, error)
}

// PlanStore stores plan revisions with their requests.
type PlanStore interface {
	// AddPlan stores the next revision and returns the plan with Revision set. If the latest plan has the same digest, it returns
	// that plan and stores nothing.
	AddPlan(ctx context.Context, site string, p Plan, r PlanRequest, at time.Time) (stored Plan, added bool, err error)
	Plan(ctx context.Context, site string, revision int) (Plan, PlanRequest, error)
	LatestPlan(ctx context.Context, site string) (Plan, PlanRequest, error)
	// LatestPlanAlone is LatestPlan without the request, which takes longer to read than the plan.
	LatestPlanAlone(ctx context.Context, site string) (Plan, error)
	// PlanByDigest returns the latest revision if it has this digest.
	PlanByDigest(ctx context.Context, site, digest string) (Plan, bool, error)
	Plans(ctx context.Context, site string, p Page) (Rows[PlanHead], error) // newest first
	// SetAside dismisses a proposed plan or, with a zero time, restores it.
	SetAside(ctx context.Context, site string, revision int, at time.Time) error
}

// PlanHead is a plan's entry in a list.
type PlanHead struct {
	Revision   int        `json:"revision"`
	ComputedAt time.Time  `json:"computed_at"`
	StoredAt   time.Time  `json:"stored_at"`
	From       Date       `json:"from"`
	Days       int        `json:"days"`
	Digest     string     `json:"digest"`
	Text       string     `json:"text"`
	SetAsideAt *time.Time `json:"set_aside_at"` // when the manager dismissed the proposal; null: not dismissed
}

// SheetStore stores published prep sheets and the marks on their tasks.
type SheetStore interface {
	// PutSheets publishes sheets, each replacing the one for its date; replaced sheets are kept.
	PutSheets(ctx context.Context, site string, sheets []PrepSheet) error
	// Sheet returns the current sheet for a date with each task's state from its marks.
	Sheet(ctx context.Context, site string, date Date) (PrepSheet, error)
	Sheets(ctx context.Context, site string, from, to Date) ([]PrepSheet, error)
	// SheetBefore returns the sheet that the current one for a date has replaced; CodeNotFound if it has replaced none.
	SheetBefore(ctx context.Context, site string, date Date) (PrepSheet, error)
	// DroppedTasks returns the tasks of replaced sheets that the current sheet no longer has; dates from ≤ d < to.
	DroppedTasks(ctx context.Context, site string, from, to Date) ([]DroppedTask, error)
	// Task returns a task by ID from the newest sheet that has it; replaced reports that a newer sheet for its date does not.
	Task(ctx context.Context, id string) (site string, date Date, task Task, replaced bool, err error)
	// TasksOfKind returns the tasks of a kind of the dates from ≤ d < to as they were published, also those that only replaced sheets have.
	TasksOfKind(ctx context.Context, site, kind string, from, to Date) ([]Task, error)
	// AddMark stores a mark. A repeated key for the task stores nothing and returns added false.
	AddMark(ctx context.Context, site string, m TaskMark, at time.Time) (added bool, err error)
	// Marks returns the marks on tasks of the dates from ≤ d < to, in order of arrival.
	Marks(ctx context.Context, site string, from, to Date) ([]TaskMark, error)
}

// WarningStore stores warnings over their life.
type WarningStore interface {
	// SyncWarnings brings a site's open warnings in line with now: it opens new keys, updates known ones, closes those of the given
	// kinds that are missing, and returns the ones it opened.
	SyncWarnings(ctx context.Context, site string, kinds []string, now []OpenWarning, at time.Time) (opened []OpenWarning, err error)
	OpenWarnings(ctx context.Context, site string) ([]OpenWarning, error)
	// WarningsOpened returns the warnings with from ≤ OpenedAt < to, including closed ones, oldest first.
	WarningsOpened(ctx context.Context, site string, from, to time.Time) ([]OpenWarning, error)
	AckWarning(ctx context.Context, site, id, by string, at time.Time) (OpenWarning, error)
}

// WatchStore tells whether a check for shortages has anything to do.
type WatchStore interface {
	// WatchState returns the number of changes of a site so far, and what the last whole check said.
	WatchState(ctx context.Context, site string) (changes int64, last Watched, err error)
	PutWatched(ctx context.Context, site string, w Watched) error
}

// Watched is what a whole check for shortages saw. Until AgainAt its result holds, unless there are more changes by then.
type Watched struct {
	Changes int64
	AgainAt time.Time
}

// LiveStore stores live events for screens.
type LiveStore interface {
	AddEvent(ctx context.Context, e LiveEvent) (id int64, err error)
	EventsAfter(ctx context.Context, site string, id int64, limit int) ([]LiveEvent, error)
	LastEventID(ctx context.Context, site string) (int64, error)
	// Changed returns a channel that is closed when this process next commits an event of the site.
	Changed(site string) <-chan struct{}
}

// TokenStore stores tokens, hashed.
type TokenStore interface {
	// AddToken creates a token and returns its secret, of which only a hash is stored.
	AddToken(ctx context.Context, t Token, at time.Time) (stored Token, secret string, err error)
	// TokenBySecret returns the token with this secret; CodeUnauthorised if there is none or it is revoked.
	TokenBySecret(ctx context.Context, secret string, at time.Time) (Token, error)
	TokenByID(ctx context.Context, id string) (Token, error)
	Tokens(ctx context.Context) ([]Token, error)
	RevokeToken(ctx context.Context, id string, at time.Time) error
}

// SessionStore stores browser sessions. The first three methods implement the session library's store interface.
type SessionStore interface {
	FindCtx(ctx context.Context, token string) (data []byte, found bool, err error)
	CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error
	DeleteCtx(ctx context.Context, token string) error
	// NameSession records the holder of a committed session.
	NameSession(ctx context.Context, token string, s Session) error
	// Sessions returns the unexpired sessions of people and access keys, newest first.
	Sessions(ctx context.Context) ([]Session, error)
	// SessionOpen reports whether a holder's session is open, without counting as its use.
	SessionOpen(ctx context.Context, holder, id string) (bool, error)
	// EndSession ends a session by ID; CodeNotFound if there is none.
	EndSession(ctx context.Context, id string) error
}

// Queue accepts jobs. A job whose (Kind, Site, Key) is already queued, running or done is not added again; nor is one of a kind with
// OnePending while another of its kind and site waits, which then runs no later than it would have.
type Queue interface {
	Enqueue(ctx context.Context, j Job) (added bool, err error)
}

// Store is the whole storage interface.
type Store interface {
	SiteStore
	SalesStore
	MappingStore
	DemandStore
	WeatherStore
	ForecastStore
	RecordStore
	BrewStore
	LearntStore
	ProgressStore
	EventStore
	OutageStore
	StockStore
	PlanStore
	SheetStore
	WarningStore
	WatchStore
	LiveStore
	TokenStore
	ScreenStore
	CalendarKeyStore
	GroupStore
	SiteStateStore
	LotTaskStore
	PersonStore
	AttemptStore
	AuditStore
	WebhookStore
	MailStore
	PushStore
	RetentionStore
	SiteDataStore
	Queue
	// Within runs fn in one transaction, which is durable when Within returns nil and rolled back otherwise. fn must use the Store
	// that it is given.
	Within(ctx context.Context, fn func(Store) error) error
	// Read runs fn on one consistent snapshot.
	Read(ctx context.Context, fn func(Store) error) error
	// Ready reports whether the database can be read and written, by writing to it: CodeStorage if it cannot be written.
	Ready(ctx context.Context) error
	// StorageState returns how the storage stands, without writing.
	StorageState() StorageState
	// QueueState returns how the queue of jobs stands.
	QueueState(ctx context.Context) (QueueState, error)
	Close() error
}

// Work runs a job. It may take its time to read and compute; the effect that it returns runs in the transaction that completes the
// job, so the two commit together. A nil effect only completes the job. After an error the job is retried with back-off.
type Work func(ctx context.Context, j Job) (effect func(tx Store) error, err error)

// Worker runs jobs from the queue.
type Worker interface {
	// Run runs jobs until ctx ends, then finishes or releases those in progress.
	Run(ctx context.Context, work map[string]Work) error
}
