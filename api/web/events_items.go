package web

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Kinds of event items, as in paths and text keys.
const (
	kindEvent     = "event"
	kindHoliday   = "holiday"
	kindClosed    = "closed"
	kindOutage    = "outage"
	kindAttention = "attention"
	kindOffSale   = "off_sale"
	kindHours     = "hours" // opening hours of a single date, edited in the set-up
)

// eventItem is an item of the Events page. One of the row pointers is set, none for kindHours.
type eventItem struct {
	kind      string
	from, to  time.Time
	open      bool // open-ended: to is not set
	text      string
	event     *models.Event
	outage    *models.Outage
	attention *models.Attention
	offSale   *models.OffSale
}

// key identifies an item within its site.
func (i eventItem) key() string {
	name := ""
	switch {
	case i.event != nil:
		name = i.event.Name
	case i.outage != nil:
		name = i.outage.Kind + " " + i.outage.Code
	case i.offSale != nil:
		name = i.offSale.Drink
	}
	return fmt.Sprintf("%s %d %d %s", i.kind, i.from.UnixMilli(), i.to.UnixMilli(), name)
}

// span is the item's time; one that is open ends at end.
func (i eventItem) span(end time.Time) models.Span {
	if i.open {
		return models.Span{From: i.from, To: end}
	}
	return models.Span{From: i.from, To: i.to}
}

// fingerprint is equal for two items if they mean the same to a plan.
func (i eventItem) fingerprint() string {
	switch {
	case i.event != nil:
		return fmt.Sprintf("%s %g", i.key(), i.event.Factor)
	case i.attention != nil:
		return fmt.Sprintf("%s %d", i.key(), i.attention.Starts)
	case i.kind == kindHours:
		return i.key() + " " + i.text
	}
	return i.key()
}

// sentence describes the item. It adds that plans still prepare a drink that is off sale.
func (i eventItem) sentence(now time.Time, v voice) string {
	if i.offSale != nil && (i.open || i.to.After(now)) {
		return i.text + " " + v.Say("known.say.prepared")
	}
	return i.text
}

// rows returns the item as stored.
func (i eventItem) rows() (k models.SiteEvents) {
	switch {
	case i.event != nil:
		k.Events = []models.Event{*i.event}
	case i.outage != nil:
		k.Outages = []models.Outage{*i.outage}
	case i.attention != nil:
		k.Attention = []models.Attention{*i.attention}
	case i.offSale != nil:
		k.OffSale = []models.OffSale{*i.offSale}
	}
	return k
}

// json returns the rows as a document, for the script that undoes.
func (i eventItem) json() string {
	b, _ := json.Marshal(i.rows()) // rows of numbers, texts and times
	return string(b)
}

// affectsPlan reports whether the item changes a plan. Off-sale periods only explain past sales, and outages of equipment that is no
// longer in the set-up are ignored.
func (i eventItem) affectsPlan(setup models.Setup) bool {
	if i.outage != nil {
		return slices.ContainsFunc(equipment(setup), func(e models.Outage) bool { return e.Kind == i.outage.Kind && e.Code == i.outage.Code })
	}
	return i.offSale == nil
}

// equipment lists everything that can have an outage.
func equipment(s models.Setup) (out []models.Outage) {
	for _, b := range s.Brewers {
		out = append(out, models.Outage{Kind: "brewer", Code: b.Code})
	}
	for _, m := range s.Ice.Makers {
		out = append(out, models.Outage{Kind: "maker", Code: m.Code})
	}
	for _, m := range s.Ice.Moulds {
		out = append(out, models.Outage{Kind: "mould", Code: m.Code})
	}
	return append(out, models.Outage{Kind: "tank"})
}

func equipmentName(kind, code string, v voice) string {
	return v.Say("known.equipment."+kind, "name", code)
}

// eventItems returns all items, with the opening hours of single dates, in chronological order.
func eventItems(k models.SiteEvents, setup models.Setup, v voice) (out []eventItem) {
	for i := range k.Events {
		out = append(out, newEventItem(&k.Events[i], v))
	}
	for i, o := range k.Outages {
		out = append(out, eventItem{kind: kindOutage, from: o.From, to: o.To, outage: &k.Outages[i],
			text: v.Say("known.say.outage", "what", equipmentName(o.Kind, o.Code, v))})
	}
	for i, a := range k.Attention {
		item := eventItem{kind: kindAttention, from: a.From, to: a.To, attention: &k.Attention[i], text: v.Say("known.say.nobody")}
		if a.Starts > 0 {
			item.text = v.Say("known.say.attention", "n", a.Starts, "min", setup.Site.SlotMin, "usual", setup.Site.StartsPerSlot)
		}
		out = append(out, item)
	}
	name := drinkNames(setup.Drinks)
	for i, o := range k.OffSale {
		item := eventItem{kind: kindOffSale, from: o.From, open: o.To == nil, offSale: &k.OffSale[i], text: v.Say("known.say.off_sale", "drink", name(o.Drink))}
		if o.To != nil {
			item.to = *o.To
		}
		out = append(out, item)
	}
	out = append(out, datedHours(setup.Site, v)...)
	slices.SortStableFunc(out, func(a, b eventItem) int {
		return cmp.Or(a.from.Compare(b.from), cmp.Compare(a.kind, b.kind), cmp.Compare(a.text, b.text))
	})
	return out
}

func newEventItem(e *models.Event, v voice) eventItem {
	item := eventItem{kind: kindEvent, from: e.From, to: e.To, event: e}
	switch {
	case e.Closed:
		item.kind, item.text = kindClosed, v.Say("known.say.closed")
		if e.Name != "" {
			item.text = v.Say("known.say.closed_for", "name", e.Name)
		}
		return item
	case e.Kind == models.HolidayKind:
		item.kind = kindHoliday
	}
	if e.Name == "" && item.kind == kindEvent && e.Factor != 1 {
		item.text = busierText(e.Factor, v)
		return item
	}
	item.text = v.Say("known.say."+item.kind, "name", nameOr(e.Name, v.Say("known.no_name"))) + " "
	if e.Factor == 1 {
		item.text += v.Say("known.say.learnt")
	} else {
		item.text += busierText(e.Factor, v)
	}
	return item
}

// busierText is "10% busier than usual.", "30% quieter than usual." or "3 times as busy as usual."
func busierText(factor float64, v voice) string {
	switch pct := math.Round((factor - 1) * 100); {
	case pct >= 100:
		return v.Say("known.say.times", "factor", factor)
	case pct > 0:
		return v.Say("known.say.busier", "pct", say.Number(pct, 0))
	case pct < 0:
		return v.Say("known.say.quieter", "pct", say.Number(-pct, 0))
	}
	return v.Say("known.say.usual")
}

func datedHours(site models.Site, v voice) (out []eventItem) {
	loc := site.Location()
	for _, o := range site.Opening {
		if o.Date == nil {
			continue
		}
		from, to := o.Date.At(o.From.Minutes(), loc), o.Date.At(o.To.Minutes(), loc)
		if !to.After(from) {
			to = o.Date.AddDays(1).At(o.To.Minutes(), loc)
		}
		out = append(out, eventItem{kind: kindHours, from: from, to: to, text: v.Say("known.say.hours")})
	}
	return out
}

// formatSpan formats an item's span: "Saturday 11 July 12:00–18:00", or only the days if they are whole.
func formatSpan(i eventItem, v voice) string {
	from := i.from.In(v.Location())
	if i.open {
		return v.Say("known.when.open", "from", formatMoment(from, v))
	}
	to := i.to.In(v.Location())
	last := models.DateOf(to.Add(-time.Nanosecond), v.Location())
	first := models.DateOf(from, v.Location())
	whole := from.Equal(first.At(0, v.Location())) && to.Equal(last.AddDays(1).At(0, v.Location()))
	switch {
	case whole && first == last:
		return v.Day(from)
	case whole:
		return v.Days(from, last.At(720, v.Location()))
	case first == last:
		return v.Say("known.when.day", "day", v.Day(from), "from", v.Clock(from), "to", v.Clock(to))
	}
	return v.Say("known.when.days", "from", formatMoment(from, v), "to", formatMoment(to, v))
}

func formatMoment(t time.Time, v voice) string {
	return v.Say("known.when.at", "day", v.Day(t), "clock", v.Clock(t))
}
