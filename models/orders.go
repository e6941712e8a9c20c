package models

import (
	"cmp"
	"slices"
	"time"
)

// Orders are what shops need of beans, bought ice and supplies over some days, from the latest plan of each.
type Orders struct {
	From    Date           `json:"from"`
	To      Date           `json:"to"` // the day after the last
	Rows    []OrderRow     `json:"rows"`
	Totals  []OrderTotal   `json:"totals"`
	Missing []OrderMissing `json:"missing"` // shops whose plan lacks some of the days: the rows and totals lack what these need
}

// OrderRow is what one shop needs of one thing over the days.
type OrderRow struct {
	Site    string     `json:"site"`
	Name    string     `json:"name"`
	Kind    string     `json:"kind"` // beans, ice (for drinks, to be bought) or supply
	Item    string     `json:"item"` // code of the coffee, name of the supply; empty: ice
	Unit    string     `json:"unit"` // g, ml or piece
	Amount  float64    `json:"amount"`
	Short   float64    `json:"short"`    // of it, more than the shop has
	OrderBy *time.Time `json:"order_by"` // the first cut-off; null: none
}

// OrderTotal is what all shops need of one thing.
type OrderTotal struct {
	Kind   string  `json:"kind"`
	Item   string  `json:"item"`
	Unit   string  `json:"unit"`
	Amount float64 `json:"amount"`
	Short  float64 `json:"short"`
	Shops  int     `json:"shops"`
}

// OrderMissing is a shop with open days that are not in its latest plan.
type OrderMissing struct {
	Site string `json:"site"`
	Name string `json:"name"`
	Days []Date `json:"days"`
}

// OrdersOf sums up what sites need on the days from ≤ d < to.
func OrdersOf(records []SiteRecord, from, to Date) Orders {
	out := Orders{From: from, To: to, Rows: []OrderRow{}, Totals: []OrderTotal{}, Missing: []OrderMissing{}}
	type thing struct{ kind, item, unit string }
	totals := map[thing]*OrderTotal{}
	for _, r := range records {
		mine := map[thing]*OrderRow{}
		for _, n := range r.Needs {
			if n.Date < from || n.Date >= to {
				continue
			}
			k := thing{n.Kind, n.Name, n.Unit}
			if mine[k] == nil {
				mine[k] = &OrderRow{Site: r.State.Site, Name: r.State.Name, Kind: n.Kind, Item: n.Name, Unit: n.Unit}
			}
			row := mine[k]
			row.Amount, row.Short = row.Amount+n.Amount, row.Short+n.Short
			if n.OrderBy != nil && (row.OrderBy == nil || n.OrderBy.Before(*row.OrderBy)) {
				row.OrderBy = n.OrderBy
			}
		}
		first := len(out.Rows)
		for k, row := range mine {
			out.Rows = append(out.Rows, *row)
			if totals[k] == nil {
				totals[k] = &OrderTotal{Kind: k.kind, Item: k.item, Unit: k.unit}
			}
			t := totals[k]
			t.Amount, t.Short, t.Shops = t.Amount+row.Amount, t.Short+row.Short, t.Shops+1
		}
		slices.SortFunc(out.Rows[first:], func(a, b OrderRow) int {
			return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Item, b.Item), cmp.Compare(a.Unit, b.Unit))
		})
		var days []Date
		for d := from; d < to; d = d.AddDays(1) {
			if !slices.Contains(r.Days, d) && !slices.Contains(r.Closed, d) {
				days = append(days, d)
			}
		}
		if len(days) > 0 {
			out.Missing = append(out.Missing, OrderMissing{r.State.Site, r.State.Name, days})
		}
	}
	for _, t := range totals {
		out.Totals = append(out.Totals, *t)
	}
	slices.SortFunc(out.Totals, func(a, b OrderTotal) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Item, b.Item), cmp.Compare(a.Unit, b.Unit))
	})
	return out
}
