package models

import (
	"context"
	"io"
	"time"
)

// SiteDataStore hands out and deletes what belongs to a site or a person.
type SiteDataStore interface {
	// ExportSite writes everything that a site has stored, but no secrets, as a zip archive of JSON documents and CSV files.
	ExportSite(ctx context.Context, site string, w io.Writer) error
	// DeleteSite deletes a site with its data, screens, access keys, webhooks and the people who reach only it. The activity log stays.
	DeleteSite(ctx context.Context, site string) error
	// ErasePerson removes a person, and puts an alias in the place of their name wherever it is stored. If somebody else has the same
	// name, only entries known to be this person's are changed.
	ErasePerson(ctx context.Context, id string, at time.Time) (alias string, err error)
}
