package sheet

import (
	"strings"
	"time"

	"hotday/models"
)

// stationSupplies is the station of supplies to get out.
const stationSupplies = "supplies"

// getsBefore is how long before opening supplies are got out, where people are there by then; common practice, no source.
const getsBefore = 30 * time.Minute

// supplies adds a task before each day's opening: the milk, tonic, cups and other supplies that its planned drinks use.
func (w *sheetWriter) supplies() {
	for _, d := range w.dates {
		var needs []models.SupplyNeed
		for _, n := range w.plan.Supplies {
			if n.Date == d {
				needs = append(needs, n)
			}
		}
		at, ok := w.beforeOpening(d)
		if len(needs) == 0 || !ok || at.Before(w.plan.ComputedAt) {
			continue
		}
		w.get(d, at, needs)
	}
}

// beforeOpening is when to get supplies out on a day; ok is false where the shop is closed or nobody is there before its opening.
func (w *sheetWriter) beforeOpening(d models.Date) (at time.Time, ok bool) {
	takes := models.Minutes(w.req.Site.Work().Get)
	open := openSpans(w.req, d)
	if len(open) == 0 {
		return time.Time{}, false
	}
	return fitInto(attendance(w.req, d), open[0].From.Add(-getsBefore), takes)
}

func (w *sheetWriter) get(d models.Date, at time.Time, needs []models.SupplyNeed) {
	t := models.Task{ID: taskID(w.req.Site.Code, d, stationSupplies, models.TaskGet, "supplies"), At: at, Until: at.Add(models.Minutes(w.req.Site.Work().Get)), Hands: 1,
		Station: stationSupplies, Kind: models.TaskGet, State: models.Due, Supplies: needs}
	var items []string
	why := "supplies.why_get_plain"
	for _, n := range needs {
		items = append(items, w.supply(&n))
		if len(n.Allergens) > 0 {
			why = "supplies.why_get"
		}
		if s := w.req.SupplyNamed(n.Name); s != nil && n.Unit != "piece" && s.Pack > heavyG {
			t.Hands = 2
		}
	}
	t.Say = w.Say("supplies.get", "list", strings.Join(items, w.Say("said.comma")))
	t.Why = w.Say(why, "day", w.DayName(d))
	w.put(d, t)
}

// supply says how much of a supply to get out, in packs where it comes in packs, with its allergens and where it is kept.
func (w wording) supply(n *models.SupplyNeed) string {
	amount := w.SupplyAmount(n.Amount, n.Unit)
	item := w.Say("supplies.get_item", "amount", amount, "name", n.Name)
	if s := w.setup.SupplyNamed(n.Name); n.Packs > 0 && s != nil && s.Pack > 1 {
		item = w.Say("supplies.get_packs", "n", n.Packs, "name", n.Name, "amount", amount)
	}
	if len(n.Allergens) > 0 {
		item = w.Say("supplies.get_allergens", "item", item, "allergens", strings.Join(n.Allergens, w.Say("said.comma")))
	}
	if n.KeptIn != "" {
		item = w.Say("supplies.get_from", "item", item, "place", n.KeptIn)
	}
	return item
}
