package models

import (
	"cmp"
	"context"
	"slices"
	"time"
)

// LotRecall is which shops used a lot of beans, may have used it, or plan to.
type LotRecall struct {
	Lot  string      `json:"lot"`
	From Date        `json:"from"`
	To   Date        `json:"to"` // the day after the last
	Rows []RecallRow `json:"rows"`
}

// RecallRow is a batch for which the lot was planned, or a shop about which too little is known to rule the lot out.
type RecallRow struct {
	Site   string `json:"site"`
	Name   string `json:"name"`
	Status string `json:"status"` // used, may_have_used, planned or not_used
	Reason string `json:"reason"` // made, no_mark, planned, skipped; without a batch has_lot or unknown

	Batch      string     `json:"batch"` // ID of the task; empty: of the shop as a whole
	Date       *Date      `json:"date"`
	Beverage   string     `json:"beverage"`
	Station    string     `json:"station"`
	PlannedAt  *time.Time `json:"planned_at"`
	MadeAt     *time.Time `json:"made_at"`
	UseBy      *time.Time `json:"use_by"`
	WithinHold bool       `json:"within_hold"` // not past its use-by time: it may still be served
}

// Statuses and reasons of a RecallRow.
const (
	RecallUsed    = "used"
	RecallMay     = "may_have_used"
	RecallPlanned = "planned"
	RecallNot     = "not_used"

	RecallMade    = "made"    // the batch is marked as started or made
	RecallNoMark  = "no_mark" // its time is over and nobody marked it: never taken for not made
	RecallLater   = "planned" // its time has not come
	RecallSkipped = "skipped" // somebody marked it as skipped
	RecallHasLot  = "has_lot" // the lot is in the settings, and no batch was planned with it
	RecallUnknown = "unknown" // the shop has not been looked at yet
)

// LotTaskStore finds the tasks of a lot.
type LotTaskStore interface {
	// TasksOfLot returns the brew tasks of the dates from ≤ d < to that were published with beans of a lot, also those that only replaced
	// sheets have.
	TasksOfLot(ctx context.Context, site, lot string, from, to Date) ([]Task, error)
}

// RecallRows are the rows of one shop: of its tasks that were planned with the lot and their marks or, without any, of the shop itself if
// it may have the lot. known is false where its settings have not been looked at.
func RecallRows(site, name, lot string, lots []SiteLot, known bool, tasks []Task, marks []TaskMark, now time.Time) (out []RecallRow) {
	current := CurrentMarks(marks)
	for _, t := range tasks {
		r := RecallRow{Site: site, Name: name, Batch: t.ID, Beverage: t.Beverage, Station: t.Station, PlannedAt: &t.At}
		if b := t.Batch; b != nil {
			r.Date, r.Beverage, r.UseBy = &b.Date, cmp.Or(t.Beverage, b.Beverage), &b.UseBy
		}
		m, marked := current[t.ID]
		switch {
		case marked && (m.State == Made || m.State == Started):
			r.Status, r.Reason, r.MadeAt = RecallUsed, RecallMade, &m.At
			if late := m.At.Sub(t.At); r.UseBy != nil && late > 0 {
				r.UseBy = new(r.UseBy.Add(late))
			}
		case marked && m.State == Skipped:
			r.Status, r.Reason = RecallNot, RecallSkipped
		case t.At.After(now):
			r.Status, r.Reason = RecallPlanned, RecallLater
		default:
			r.Status, r.Reason = RecallMay, RecallNoMark
		}
		r.WithinHold = r.Status != RecallNot && (r.UseBy == nil || now.Before(*r.UseBy))
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(a, b RecallRow) int { return a.PlannedAt.Compare(*b.PlannedAt) })
	has := slices.ContainsFunc(lots, func(l SiteLot) bool { return l.Lot == lot })
	switch {
	case len(out) > 0:
	case !known:
		out = append(out, RecallRow{Site: site, Name: name, Status: RecallMay, Reason: RecallUnknown, WithinHold: true})
	case has:
		out = append(out, RecallRow{Site: site, Name: name, Status: RecallMay, Reason: RecallHasLot, WithinHold: true})
	}
	return out
}

// SortRecall sorts rows: what may still be served first, then by status and site.
func SortRecall(rows []RecallRow) {
	order := []string{RecallUsed, RecallMay, RecallPlanned, RecallNot}
	served := func(r RecallRow) int {
		if r.WithinHold {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(rows, func(a, b RecallRow) int {
		return cmp.Or(cmp.Compare(served(a), served(b)), cmp.Compare(slices.Index(order, a.Status), slices.Index(order, b.Status)), cmp.Compare(a.Site, b.Site))
	})
}
