package models

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Keep is for how many days finished records are kept, by the names of KeptRecords. Whatever is not named there is kept for good: sales
// counts, marks with their tasks, current sheets, stock, weather, expected demand, forecasts and their accuracy.
type Keep map[string]int

// KeptRecord is a kind of record that is removed after a while.
type KeptRecord struct {
	Name    string
	Days    int // by default
	Least   int // days; fewer would disturb a running service
	Records string
}

// Names of KeptRecords.
const (
	KeepPlans      = "plans"
	KeepPublished  = "published"
	KeepSheets     = "sheets"
	KeepEvents     = "events"
	KeepDeliveries = "deliveries"
	KeepJobs       = "jobs"
	KeepWarnings   = "warnings"
	KeepSetups     = "setups"
	KeepActivity   = "activity"
)

// KeptRecords are the records that are removed after a while.
var KeptRecords = []KeptRecord{
	{KeepPlans, 30, 16, "plan revisions, with their requests, that no current sheet comes from"},
	{KeepPublished, 400, 16, "plan revisions, with their requests, that a current sheet comes from"},
	{KeepSheets, 30, 2, "replaced sheets, and the tasks that only they had and nobody marked"},
	{KeepEvents, 14, 1, "live events, which screens read when they reconnect"},
	{KeepDeliveries, 30, 2, "webhook deliveries and e-mail"},
	{KeepJobs, 30, 16, "finished jobs of the queue"},
	{KeepWarnings, 400, 16, "closed warnings"},
	{KeepSetups, 400, 60, "versions of the settings beyond the last 100"},
	{KeepActivity, 1100, 30, "entries of the activity log"},
}

// WithDefaults returns the days of every kept record, or an error for an unknown name or too few days.
func (k Keep) WithDefaults() (Keep, error) {
	all := Keep{}
	for _, r := range KeptRecords {
		all[r.Name] = r.Days
	}
	for name, days := range k {
		i := slices.IndexFunc(KeptRecords, func(r KeptRecord) bool { return r.Name == name })
		if i < 0 {
			return nil, fmt.Errorf("nothing called %q is kept; known: %s", name, strings.Join(keptNames(), ", "))
		}
		if days < KeptRecords[i].Least {
			return nil, fmt.Errorf("%s must be kept for at least %d days, not %d", name, KeptRecords[i].Least, days)
		}
		all[name] = days
	}
	return all, nil
}

func keptNames() (names []string) {
	for _, r := range KeptRecords {
		names = append(names, r.Name)
	}
	return names
}

// Before returns the instant before which records of a name are removed.
func (k Keep) Before(name string, now time.Time) time.Time { return now.AddDate(0, 0, -k[name]) }

// Tidied counts what was removed, by the names of KeptRecords, and documents that were compressed.
type Tidied struct {
	Removed    map[string]int64
	Compressed int64
}

// RetentionStore removes what is no longer kept. Both methods work in small transactions, so that others write in between; what they
// did before an error stays done.
type RetentionStore interface {
	// TidySite removes the old records of a site and compresses documents that an earlier version stored as text. keep is complete.
	TidySite(ctx context.Context, site string, keep Keep, now time.Time) (Tidied, error)
	// TidyService removes the old records that belong to no site: deliveries, e-mail and activity. keep is complete.
	TidyService(ctx context.Context, keep Keep, now time.Time) (Tidied, error)
}
