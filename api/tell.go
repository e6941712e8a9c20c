package api

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

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
)

// tell adds what screens should know of to the transaction of the data that it is about.
func (s *Server) tell(ctx context.Context, tx models.Store, site, kind string, data any) error {
	raw, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("write a live event: %w", err)
	}
	_, err = tx.AddEvent(ctx, models.LiveEvent{Site: site, Kind: kind, At: s.Now(), Data: raw})
	return err
}

// watchAfter gathers the looks at what runs short that several posts ask for into one.
const watchAfter = time.Minute

// watch asks for a look at what runs short, once for all that is said within a minute.
func (s *Server) watch(ctx context.Context, tx models.Store, site string) error {
	run := s.Now().UTC().Truncate(watchAfter).Add(watchAfter)
	_, err := tx.Enqueue(ctx, models.Job{Kind: models.JobWatch, Site: site, Key: run.Format(time.RFC3339), RunAt: run})
	return err
}

// replan asks for the rest of the day to be planned anew.
func (s *Server) replan(ctx context.Context, tx models.Store, site string) error {
	_, err := tx.Enqueue(ctx, models.ReplanJob(site, s.Now()))
	return err
}
