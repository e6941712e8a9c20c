package jobs

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"hotday/models"
)

// addEvent adds a live event for a site's screens, in the transaction of the change.
func addEvent(ctx context.Context, tx models.Store, site, kind string, at time.Time, data any) error {
	raw, err := json.Marshal(data)
	if err != nil {
		return fmt.Errorf("encode the event: %w", err)
	}
	_, err = tx.AddEvent(ctx, models.LiveEvent{Site: site, Kind: kind, At: at, Data: raw})
	return err
}
