package facts

import (
	"context"
	"fmt"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/review"
)

// MaxReviewDays is the longest review: a season.
const MaxReviewDays = 184

// Review reviews the given number of days from a date on, 1 to MaxReviewDays, as far as they are over at now, from one consistent
// state of the store. Days out of range are CodeInvalid.
func Review(ctx context.Context, store models.Store, site string, from models.Date, days int, now time.Time) (models.Review, error) {
	if days < 1 || days > MaxReviewDays {
		return models.Review{}, models.Invalid("/days", fmt.Sprintf("1 to %d", MaxReviewDays), "%d days cannot be looked back on", days)
	}
	var facts review.Facts
	err := store.Read(ctx, func(st models.Store) (err error) {
		facts, err = gatherFacts(ctx, st, site, from, days, now)
		return err
	})
	if err != nil {
		return models.Review{}, fmt.Errorf("look back on %s: %w", site, err)
	}
	return facts.Review(from), nil
}

func gatherFacts(ctx context.Context, st models.Store, site string, from models.Date, days int, now time.Time) (f review.Facts, err error) {
	if f.Setup, _, err = st.Setup(ctx, site); err != nil {
		return f, err
	}
	s := &f.Setup.Site
	g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, Now: now}, r: &models.PlanRequest{Setup: f.Setup}, today: s.ServiceDayOf(now)}
	to := min(from.AddDays(days), g.today)
	start, end := from.At(0, s.Location()), now
	if to > from {
		end = s.DayEnd(to.AddDays(-1))
	}
	if g.events, err = st.Events(ctx, site, start, end); err != nil {
		return f, err
	}
	mapped, err := g.mappedDrinks()
	if err != nil {
		return f, err
	}
	if f.Off, err = g.offSaleIn(start, end); err != nil {
		return f, err
	}
	for d := from; d < to; d = d.AddDays(1) {
		if err := ctx.Err(); err != nil {
			return f, err
		}
		day, err := g.pastDay(d, mapped, f.Off)
		if err != nil {
			return f, err
		}
		f.Days = append(f.Days, review.Day{PastDay: day})
	}
	if f.Changes, err = st.StockChanges(ctx, site, start, end); err != nil {
		return f, err
	}
	if f.Counts, err = st.StockCounts(ctx, site, start, end); err != nil {
		return f, err
	}
	if f.Warned, err = st.WarningsOpened(ctx, site, start.AddDate(0, 0, -14), end); err != nil {
		return f, err
	}
	if record, found, err := st.TrackRecord(ctx, site); err != nil {
		return f, err
	} else if found {
		f.Record = &record
	}
	switch replay, err := st.PastReplay(ctx, site); {
	case err == nil:
		f.Replay = &replay
	case models.CodeOf(err) != models.CodeNotFound:
		return f, err
	}
	if err := readForecasts(ctx, &f, st, from, to); err != nil {
		return f, err
	}
	return f, marked(ctx, &f, st, from, to, now)
}

func readForecasts(ctx context.Context, f *review.Facts, st models.Store, from, to models.Date) error {
	site := f.Setup.Site.Code
	list, err := st.DayForecasts(ctx, site, from, to)
	if err != nil {
		return err
	}
	sheets, err := st.Sheets(ctx, site, from, to)
	if err != nil {
		return err
	}
	for i := range f.Days {
		d := &f.Days[i]
		if k := slices.IndexFunc(list, func(s models.DayForecast) bool { return s.Date == d.Date }); k >= 0 {
			d.Forecast = &list[k]
		}
		if k := slices.IndexFunc(sheets, func(s models.PrepSheet) bool { return s.Date == d.Date }); k >= 0 {
			d.Sheet = &sheets[k]
		}
	}
	return nil
}

// marked reads from the marks which batches were made and what was discarded.
func marked(ctx context.Context, f *review.Facts, st models.Store, from, to models.Date, now time.Time) error {
	marks, err := st.Marks(ctx, f.Setup.Site.Code, from, to)
	if err != nil {
		return err
	}
	known := map[string]models.Task{}
	for _, d := range f.Days {
		if d.Sheet != nil {
			for _, t := range d.Sheet.Tasks {
				known[t.ID] = t
			}
		}
	}
	made := map[string]int{}
	for _, of := range byTask(marks, now) {
		m, ok := models.CurrentMark(of)
		if !ok || m.State != models.Made {
			continue
		}
		t, ok := known[m.Task]
		if !ok { // of a replaced sheet: it was done all the same
			if _, _, t, _, err = st.Task(ctx, m.Task); err != nil {
				return err
			}
		}
		if t.Kind == models.TaskDiscard {
			if bev := discarded(f.Setup.Beverages, &t); bev != "" {
				f.Poured = append(f.Poured, review.Poured{Date: f.Setup.Site.ServiceDayOf(m.At), Bev: bev, G: m.BeverageG})
			}
			continue
		}
		if t.Batch == nil || (t.Kind == models.TaskBrew && !t.Batch.StrainAt.IsZero()) {
			continue // a steeped one is beverage when it is strained
		}
		b := review.Batch{Date: f.Setup.Site.ServiceDayOf(m.At), At: m.At, Bev: t.Batch.Beverage, G: t.Batch.BeverageG}
		if m.BeverageG != nil {
			b.G = *m.BeverageG
		}
		id := string(t.Batch.Date) + " " + t.Batch.ID
		if i, had := made[id]; !had {
			made[id] = len(f.Batches)
			f.Batches = append(f.Batches, b)
		} else if m.BeverageG != nil || b.At.After(f.Batches[i].At) {
			if m.BeverageG == nil {
				b.G = f.Batches[i].G
			}
			f.Batches[i] = b
		}
	}
	return nil
}
