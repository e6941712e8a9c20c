package models

import "time"

// SaidWord is the manager's word as it was stored at an instant; Expected nil took it back.
type SaidWord struct {
	ExpectedDemand
	StoredAt time.Time
}

// SaidDay is what the forecast said of a service day from what was known before it began.
type SaidDay struct {
	Date     Date
	SaidAt   time.Time
	Observed bool      // from the weather as it came: none had been forecast
	Rows     []SaidRow // of drinks and day parts that the forecast knew
}

// SaidRow is what was said of a drink in a day part, servings without the effect of events.
type SaidRow struct {
	DayPart string  `json:"day_part"`
	Drink   string  `json:"drink"`
	P10     float64 `json:"p10"`
	P50     float64 `json:"p50"`
	P90     float64 `json:"p90"`
}

// TrackRecord is how well the manager's word and the forecast have done: each as it was said before its day began, against what
// was counted then. Days on which nothing was counted, closures, and parts in which the drink was off sale judge nobody; a day
// with an event is judged as it would have been without.
type TrackRecord struct {
	MadeAt   time.Time      `json:"made_at"`
	From     *Date          `json:"from"`     // the first day judged; null: none was
	To       *Date          `json:"to"`       // the last
	Observed int            `json:"observed"` // of the forecast's days, those said from the weather as it came: none had been forecast
	All      Record         `json:"all"`
	Drinks   []DrinkRecord  `json:"drinks"`
	Parts    []PartRecord   `json:"day_parts"`
	Rows     []RowRecord    `json:"rows"`
	Weeks    []PeriodRecord `json:"weeks"` // of the half year before, each from its Monday, oldest first
}

// Record sets the manager's word beside the forecast.
type Record struct {
	Word     Score `json:"word"`
	Forecast Score `json:"forecast"`
	Beside   Score `json:"beside"` // the forecast on the very days and rows that the word spoke of
}

// Score is how far off numbers were. What is null cannot be said: nothing was judged, or nothing sold.
type Score struct {
	Days      int      `json:"days"`
	Rows      int      `json:"rows"`        // numbers judged: a drink in a day part of a day
	OffPct    *float64 `json:"off_pct"`     // sum of the rows' differences from the counts, whichever way, over what was counted
	DayOffPct *float64 `json:"day_off_pct"` // the same of each day's sum over its rows
	BiasPct   *float64 `json:"bias_pct"`    // what was said in all over what was counted, less 100; above 0: said too high
	Ranges    int      `json:"ranges"`      // of rows, those said with a range
	InsidePct *float64 `json:"inside_pct"`  // of ranges, those the count lay in, on an end counted half; an honest one holds 80 %
}

// DrinkRecord is the record of a drink.
type DrinkRecord struct {
	Drink string `json:"drink"`
	Record
}

// PartRecord is the record of a day part.
type PartRecord struct {
	DayPart string `json:"day_part"`
	Record
}

// RowRecord is the record of a drink in a day part.
type RowRecord struct {
	DayPart string `json:"day_part"`
	Drink   string `json:"drink"`
	Record
}

// PeriodRecord is the record of a week.
type PeriodRecord struct {
	From Date `json:"from"`
	Record
}

// Progress is how far a job has come that takes a while.
type Progress struct {
	Kind      string    `json:"kind"`  // of the job
	Key       string    `json:"key"`   // of the job
	Share     float64   `json:"share"` // done, 0 to 1
	Say       string    `json:"say"`   // what it does, in words
	StartedAt time.Time `json:"started_at"`
	At        time.Time `json:"at"` // when it was last heard of
}

// lostAfter is how long a job that takes a while may be silent before it seems to have died.
const lostAfter = 3 * time.Minute

// Alive reports whether the job seems to be at it still.
func (p Progress) Alive(now time.Time) bool { return now.Sub(p.At) < lostAfter }
