package planner

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
)

// MostReviewDays is the longest review: a season.
const MostReviewDays = 184

// Review looks back on the days from a date on that are over at now, 1 to MostReviewDays of them, on one consistent state of the
// store. Days out of range are CodeInvalid.
func Review(ctx context.Context, store models.Store, site string, from models.Date, days int, now time.Time) (models.Review, error) {
	if days < 1 || days > MostReviewDays {
		return models.Review{}, models.Invalid("/days", fmt.Sprintf("1 to %d", MostReviewDays), "%d days cannot be looked back on", days)
	}
	var facts pastFacts
	err := store.Read(ctx, func(st models.Store) (err error) {
		facts, err = gatherFacts(ctx, st, site, from, days, now)
		return err
	})
	if err != nil {
		return models.Review{}, fmt.Errorf("look back on %s: %w", site, err)
	}
	return facts.review(from), nil
}
