package jobs

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hotday/models"
)

// watchedKinds are the warnings that the jobs open and close.
var watchedKinds = []string{
	models.WarnIceShort, models.WarnBeverageShort, models.WarnBeansShort, models.WarnWaterShort, models.WarnSalesSilent, models.WarnStockCountOld,
}

// A shortage is warned of when it becomes likely, and the warning stays until it is clearly not: without the gap between the
// two a chance that wavers would open and close it all day.
const (
	openChancePct = 25
	stayChancePct = 15
)

func openByKey(ctx context.Context, st models.Store, site string) (map[string]models.OpenWarning, error) {
	list, err := st.OpenWarnings(ctx, site)
	open := make(map[string]models.OpenWarning, len(list))
	for _, w := range list {
		open[w.Key] = w
	}
	return open, err
}

// worthSaying reports whether a warning is to stand, given whether it stands already.
func worthSaying(w models.Warning, isOpen bool) bool {
	return slices.Contains(watchedKinds, w.Kind) && (w.ChancePct >= openChancePct || (isOpen && w.ChancePct >= stayChancePct))
}

// hasNews reports whether the draft's plan says something that the open warnings do not say yet.
func (d draft) hasNews(open map[string]models.OpenWarning) bool {
	for _, w := range d.plan.Warnings {
		old, isOpen := open[warningKey(w, &d.req)]
		if worthSaying(w, isOpen) && (!isOpen || reads(old.Warning) != reads(w)) {
			return true
		}
	}
	return false
}

// warn makes the open warnings those of now and tells the screens where that changes what somebody reads.
func (c Config) warn(ctx context.Context, tx models.Store, d draft, now time.Time) error {
	site := d.req.Site
	open, err := openByKey(ctx, tx, site.Code)
	if err != nil {
		return err
	}
	silent, err := silence(ctx, tx, site, now)
	if err != nil {
		return err
	}
	old, err := oldCount(ctx, tx, site, d.req.Ice, now)
	if err != nil {
		return err
	}
	revision := d.plan.Revision // 0 where the look's own plan was not stored
	if revision == 0 && d.latest != nil {
		revision = d.latest.Revision
	}
	var standing []models.OpenWarning
	seen := map[string]bool{}
	for _, w := range slices.Concat(d.plan.Warnings, silent, old) {
		key := warningKey(w, &d.req)
		was, isOpen := open[key]
		if seen[key] || !worthSaying(w, isOpen) {
			continue
		}
		seen[key] = true
		if len(w.WaysOut) == 0 {
			w.WaysOut = was.WaysOut
		}
		standing = append(standing, models.OpenWarning{Key: key, Revision: revision, Warning: w})
	}
	opened, err := tx.SyncWarnings(ctx, site.Code, watchedKinds, standing, now)
	if err != nil {
		return err
	}
	return tellWarnings(ctx, tx, site.Code, now, opened, open, standing)
}

// tellWarnings adds one event for what was opened, closed, or reads differently now.
func tellWarnings(ctx context.Context, tx models.Store, site string, now time.Time, opened []models.OpenWarning, before map[string]models.OpenWarning,
	standing []models.OpenWarning) error {
	data := map[string]any{}
	ids := []string{}
	for _, w := range opened {
		ids = append(ids, w.ID)
	}
	updated := []string{}
	for _, w := range standing {
		old, was := before[w.Key]
		delete(before, w.Key)
		if was && reads(old.Warning) != reads(w.Warning) {
			updated = append(updated, old.ID)
		}
	}
	closed := []string{}
	for _, w := range before {
		if slices.Contains(watchedKinds, w.Kind) {
			closed = append(closed, w.ID)
		}
	}
	if len(ids)+len(updated)+len(closed) == 0 {
		return nil
	}
	slices.Sort(closed)
	data["opened"], data["updated"], data["closed"] = ids, updated, closed
	return addEvent(ctx, tx, site, "warning", now, data)
}

// reads is what a person would notice of a warning: chance to five points, amount to two digits, the quarter of an hour.
func reads(w models.Warning) string {
	amount := "0"
	if w.Amount != 0 {
		amount = strconv.FormatFloat(w.Amount, 'g', 2, 64)
	}
	return fmt.Sprint(w.Grade, " ", 5*math.Round(w.ChancePct/5), " ", amount, w.Unit, " ", w.At.UTC().Truncate(15*time.Minute).Unix())
}

// warningKey is what a warning is about: its kind, its day, and the thing that runs short. The same key at the next look is the
// same warning.
func warningKey(w models.Warning, r *models.PlanRequest) string {
	day := r.Site.ServiceDayOf(w.At)
	if w.Kind == models.WarnSalesSilent || w.Kind == models.WarnStockCountOld {
		return w.Kind
	}
	return w.Kind + "/" + string(day) + "/" + subject(w, r)
}

func subject(w models.Warning, r *models.PlanRequest) string {
	for _, f := range w.Fields {
		parts := strings.Split(f, ".")
		if strings.HasPrefix(f, "ice.plain") {
			return "plain ice"
		}
		if len(parts) < 2 {
			continue
		}
		i, err := strconv.Atoi(parts[1])
		switch {
		case err != nil || i < 0:
		case parts[0] == "beverages" && i < len(r.Beverages):
			return r.Beverages[i].Code
		case parts[0] == "coffees" && i < len(r.Coffees):
			return r.Coffees[i].Code
		}
	}
	return ""
}
