package facts

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/learnt"
)

// shopDays is how many days of marks and counts a shop's physics are learnt from.
const shopDays = 42

// LearntShop is what the marks and counts of the last weeks say about the physics of a site, with the changes of its set-up that they
// suggest and those that were taken before, from one consistent state of the store. A site without a set-up is CodeNotFound.
func LearntShop(ctx context.Context, store models.Store, site string, now time.Time) (models.Learnt, error) {
	out := models.Learnt{MadeAt: now}
	err := store.Read(ctx, func(st models.Store) error {
		setup, _, err := st.Setup(ctx, site)
		if err != nil {
			return err
		}
		today := setup.Site.ServiceDayOf(now)
		g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, From: today, Days: 1, Now: now}, r: &models.PlanRequest{Setup: setup}, today: today}
		first := today.AddDays(-shopDays)
		out.From = first.At(0, setup.Site.Location())
		if out.Changes, err = st.LearntChanges(ctx, site); err != nil {
			return err
		}
		if err := g.doneTasks(first, today.AddDays(1)); err != nil {
			return err
		}
		w := shopWatch{gathering: g, from: out.From}
		if w.versions, err = st.SetupVersions(ctx, site, mostVersions); err != nil {
			return err
		}
		w.taken = out.Changes
		observed, err := w.observed()
		if err != nil {
			return err
		}
		out.Values = learnt.Values(&setup, &observed)
		return nil
	})
	if err != nil {
		return models.Learnt{}, fmt.Errorf("learn the physics of %s: %w", site, err)
	}
	if out.Values == nil {
		out.Values = []models.LearntValue{}
	}
	return out, nil
}

// shopWatch gathers what was marked and counted since from.
type shopWatch struct {
	*gathering
	from     time.Time
	versions []models.SetupVersion // newest first
	taken    []models.LearntChange
	sold     []sale
	lastSale time.Time
	changes  []models.StockChange
}

func (w *shopWatch) observed() (learnt.Observed, error) {
	out := learnt.Observed{Batches: map[string][]learnt.Brewed{}, Readings: map[string][]learnt.Cooled{}, Ends: map[string][]learnt.Ended{}}
	var err error
	if w.sold, w.lastSale, err = w.sales(w.from, w.q.Now); err != nil {
		return out, err
	}
	if w.changes, err = w.st.StockChanges(w.ctx, w.q.Site, w.from, w.q.Now.Add(time.Millisecond)); err != nil {
		return out, err
	}
	if out.Ice, err = w.iceBin(); err != nil {
		return out, err
	}
	for _, b := range w.batches() {
		code := b.task.Beverage
		w.weighed(&out, code, &b)
		w.cooled(&out, code, &b)
	}
	for i := range w.r.Beverages {
		b := &w.r.Beverages[i]
		out.Ends[b.Code] = w.ended(b)
	}
	return out, nil
}

// mostVersions is how many versions of the set-up are searched for a change by hand.
const mostVersions = 100

// sameMoment is the longest time from a change that was taken to the set-up that it made.
const sameMoment = 10 * time.Second

// since is when a part of the set-up was last changed by hand: a new machine, or a recipe with another grind, has its own physics, so what
// was observed before says nothing about it. A change that was learnt leaves the machine the same.
func (w *shopWatch) since(part func(*models.Setup) any) time.Time {
	doc := func(v *models.SetupVersion) []byte {
		b, _ := json.Marshal(part(&v.Setup))
		return b
	}
	for i := 0; i+1 < len(w.versions); i++ {
		at := w.versions[i].StoredAt
		if at.Before(w.from) {
			break
		}
		byLearning := slices.ContainsFunc(w.taken, func(c models.LearntChange) bool {
			return at.Sub(c.At).Abs() < sameMoment || c.UndoneAt != nil && at.Sub(*c.UndoneAt).Abs() < sameMoment
		})
		if !byLearning && !bytes.Equal(doc(&w.versions[i]), doc(&w.versions[i+1])) {
			return at
		}
	}
	return w.from
}

// sinceBeverage is since for a part of a beverage.
func (w *shopWatch) sinceBeverage(code string, part func(*models.Beverage) any) time.Time {
	return w.since(func(s *models.Setup) any {
		if i := slices.IndexFunc(s.Beverages, func(b models.Beverage) bool { return b.Code == code }); i >= 0 {
			return part(&s.Beverages[i])
		}
		return nil
	})
}
