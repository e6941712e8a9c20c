package planner

import (
	"time"

	"hotday/models"
)

// pastFacts is everything that a review of days follows from.
type pastFacts struct {
	setup   models.Setup
	days    []factDay
	changes []models.StockChange
	counts  []models.StockCount
	off     []models.OffSale
	warned  []models.OpenWarning
	batches []madeBatch
	poured  []pouredMark
	record  *models.TrackRecord
}

type factDay struct {
	PastDay
	sheet *models.PrepSheet
	said  *models.SaidDay
}

// madeBatch is a batch that the marks say was made.
type madeBatch struct {
	date models.Date
	at   time.Time
	bev  string
	g    float64
}

// pouredMark is a task of throwing away that was done; g nil: nobody said how much.
type pouredMark struct {
	date models.Date
	bev  string
	g    *float64
}
