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

// watchedKinds are the kinds of warning that the jobs open and close.
var watchedKinds = []string{
	models.WarnIceShort, models.WarnBeverageShort, models.WarnBeansShort, models.WarnWaterShort, models.WarnSalesSilent, models.WarnStockCountOld,
}

// A warning opens at openChancePct and closes below stayChancePct. Without this hysteresis a fluctuating chance would open and close
// it all day.
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

// shouldBeOpen reports whether a warning is to be open, given whether it is open now.
func shouldBeOpen(w models.Warning, isOpen bool) bool {
	return slices.Contains(watchedKinds, w.Kind) && (w.ChancePct >= openChancePct || (isOpen && w.ChancePct >= stayChancePct))
}

// hasNewWarnings reports whether the plan has a warning that is not open yet or reads differently.
func (d draft) hasNewWarnings(open map[string]models.OpenWarning) bool {
	for _, w := range d.plan.Warnings {
		old, isOpen := open[warningKey(w, &d.req)]
		if shouldBeOpen(w, isOpen) && (!isOpen || displayed(old.Warning) != displayed(w)) {
			return true
		}
	}
	return false
}

// warn updates the open warnings and notifies the screens of visible changes.
func (c Config) warn(ctx context.Context, tx models.Store, d draft, now time.Time) error {
	site := d.req.Site
	open, err := openByKey(ctx, tx, site.Code)
	if err != nil {
		return err
	}
	silent, err := silentTill(ctx, tx, site, now)
	if err != nil {
		return err
	}
	old, err := oldCount(ctx, tx, site, d.req.Ice, now)
	if err != nil {
		return err
	}
	revision := d.plan.Revision // 0 if the draft was not stored
	if revision == 0 && d.latest != nil {
		revision = d.latest.Revision
	}
	var current []models.OpenWarning
	seen := map[string]bool{}
	for _, w := range slices.Concat(d.plan.Warnings, silent, old) {
		key := warningKey(w, &d.req)
		before, isOpen := open[key]
		if seen[key] || !shouldBeOpen(w, isOpen) {
			continue
		}
		seen[key] = true
		if len(w.Fixes) == 0 {
			w.Fixes = before.Fixes
		}
		current = append(current, models.OpenWarning{Key: key, Revision: revision, Warning: w})
	}
	opened, err := tx.SyncWarnings(ctx, site.Code, watchedKinds, current, now)
	if err != nil {
		return err
	}
	if err := addWarningEvent(ctx, tx, site.Code, now, opened, open, current); err != nil {
		return err
	}
	return c.tellOf(ctx, tx, site.Code, now)
}

// tellOf queues notifications and e-mail of the open warnings for everybody who is to get them and has not yet.
func (c Config) tellOf(ctx context.Context, tx models.Store, site string, now time.Time) error {
	stored, err := tx.OpenWarnings(ctx, site)
	if err != nil {
		return err
	}
	stored = slices.DeleteFunc(stored, func(w models.OpenWarning) bool { return w.AckedAt != nil }) // somebody sees to those
	if err := tx.QueueWarningPush(ctx, site, stored, now); err != nil || c.Mail == nil {
		return err
	}
	return tx.QueueWarningMail(ctx, site, stored, now)
}

// addWarningEvent adds one event for the warnings that were opened, closed or visibly changed.
func addWarningEvent(ctx context.Context, tx models.Store, site string, now time.Time, opened []models.OpenWarning, before map[string]models.OpenWarning,
	current []models.OpenWarning) error {
	data := map[string]any{}
	ids := []string{}
	for _, w := range opened {
		ids = append(ids, w.ID)
	}
	updated := []string{}
	for _, w := range current {
		old, wasOpen := before[w.Key]
		delete(before, w.Key)
		if wasOpen && displayed(old.Warning) != displayed(w.Warning) {
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

// displayed is a warning at the precision that a person notices: chance to 5 points, amount to two digits, time to a quarter of an
// hour.
func displayed(w models.Warning) string {
	amount := "0"
	if w.Amount != 0 {
		amount = strconv.FormatFloat(w.Amount, 'g', 2, 64)
	}
	return fmt.Sprint(w.Grade, " ", 5*math.Round(w.ChancePct/5), " ", amount, w.Unit, " ", w.At.UTC().Truncate(15*time.Minute).Unix())
}

// warningKey identifies a warning across checks: its kind, its day, and the item that is short.
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
