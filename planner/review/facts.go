// Package review evaluates past days: a stock ledger of each beverage, drinks sold and missed, ice, how many warnings came true,
// advice on equipment and batches, and the accuracy of the forecasts and of the manager's numbers. It computes from [Facts], which
// planner/facts reads from the store; it does no I/O itself.
package review

import (
	"time"

	"hotday/models"
)

// Facts are the input of a review of past days.
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
	Replay  *models.Replay // the latest; nil: none
}

// Day is a past service day with its last published prep sheet and its forecast, nil if there was none.
type Day struct {
	models.PastDay
	Sheet    *models.PrepSheet
	Forecast *models.DayForecast
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
