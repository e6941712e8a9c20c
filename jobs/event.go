package jobs

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"hotday/models"
)

// addEvent tells the screens of a site; it is part of the effect that it tells of.
func addEvent(ctx context.Context, tx models.Store, site, kind string, at time.Time, data map[string]any) error {
	raw, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("write the event: %w", err)
	}
	_, err = tx.AddEvent(ctx, models.LiveEvent{Site: site, Kind: kind, At: at, Data: raw})
	return err
}
