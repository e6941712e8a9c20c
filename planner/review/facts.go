// Package review looks back: how the days went, by the book of each beverage and of the ice, what the warnings were worth, and how
// close the forecast and the manager's numbers came. It computes from facts that somebody else read; it reads nothing itself.
package review

import (
	"time"

	"hotday/models"
)

// Facts are everything that a review of past days is computed from.
type Facts struct {
	Setup   models.Setup
	Days    []Day
	Changes []models.StockChange
	Counts  []models.StockCount
	Off     []models.OffSale
	Warned  []models.OpenWarning
	Batches []Batch
	Poured  []Poured
	Record  *models.TrackRecord
}

// Day is a past service day with the sheet and the forecast that were published for it, nil where there was none.
type Day struct {
	models.PastDay
	Sheet *models.PrepSheet
	Said  *models.SaidDay
}

// Batch is a batch that was marked as made.
type Batch struct {
	Date models.Date
	At   time.Time
	Bev  string
	G    float64
}

// Poured is a discard task that was marked as done. G is nil where no amount was given.
type Poured struct {
	Date models.Date
	Bev  string
	G    *float64
}
