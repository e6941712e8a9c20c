package api

import (
	"context"
	"encoding/json"
	"fmt"

	"hotday/models"
)

// Kinds of live event.
const (
	livePlan    = "plan"
	liveSheet   = "sheet"
	liveMark    = "mark"
	liveWarning = "warning"
	liveStock   = "stock"
	liveSetup   = "setup"
	liveDemand  = "demand"
	liveWork    = "work"
)

// emit adds a live event in the transaction of its data.
func (s *Server) emit(ctx context.Context, tx models.Store, site, kind string, data any) error {
	raw, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("encode a live event: %w", err)
	}
	_, err = tx.AddEvent(ctx, models.LiveEvent{Site: site, Kind: kind, At: s.Now(), Data: raw})
	return err
}

// queueWatch queues a check for shortages at the next full minute, once per minute.
func (s *Server) queueWatch(ctx context.Context, tx models.Store, site string) error {
	_, err := tx.Enqueue(ctx, models.WatchJob(site, s.Now()))
	return err
}

// queueReplan queues a replan of the rest of the day.
func (s *Server) queueReplan(ctx context.Context, tx models.Store, site string) error {
	_, err := tx.Enqueue(ctx, models.ReplanJob(site, s.Now()))
	return err
}
