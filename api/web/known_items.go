package web

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hotday/models"
)

// Kinds of what may be known of the days, as the page names them.
const (
	knownEvent     = "event"
	knownHoliday   = "holiday"
	knownClosed    = "closed"
	knownOutage    = "outage"
	knownAttention = "attention"
	knownOffSale   = "off_sale"
	knownHours     = "hours" // opening hours of one date, which the Set-up keeps
)

// knownItem is one thing that is known. One of the rows is set.
type knownItem struct {
	kind      string
	from, to  time.Time
	open      bool // to is not known
	say       string
	event     *models.Event
	outage    *models.Outage
	attention *models.Attention
	offSale   *models.OffSale
}

// key tells an item from the others of its site.
func (i knownItem) key() string {
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

// whole tells apart all that an item says: two that say the same to the plan have the same.
func (i knownItem) whole() string {
	switch {
	case i.event != nil:
		return fmt.Sprintf("%s %g", i.key(), i.event.Factor)
	case i.attention != nil:
		return fmt.Sprintf("%s %d", i.key(), i.attention.Starts)
	case i.kind == knownHours:
		return i.key() + " " + i.say
	}
	return i.key()
}

// sentence says the item, and of what lasts into the time to come what a plan makes of it where one would expect something else.
func (i knownItem) sentence(now time.Time, v voice) string {
	if i.offSale != nil && (i.open || i.to.After(now)) {
		return i.say + " " + v.Say("known.say.prepared")
	}
	return i.say
}

// rows are the item as it is stored.
func (i knownItem) rows() (k models.Known) {
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

// toPlan reports whether a plan is made otherwise for it. That a drink was off sale only explains what was sold; and the planner
// leaves out equipment that the set-up no longer has.
func (i knownItem) toPlan(setup models.Setup) bool {
	if i.outage != nil {
		return slices.ContainsFunc(equipment(setup), func(e models.Outage) bool { return e.Kind == i.outage.Kind && e.Code == i.outage.Code })
	}
	return i.offSale == nil
}

// equipment is all that may be away, as the rows name it.
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

// knownItems puts what is known into sentences, in order of time. The opening hours are those of single dates.
func knownItems(k models.Known, setup models.Setup, v voice) (out []knownItem) {
	for i := range k.Events {
		out = append(out, eventItem(&k.Events[i], v))
	}
	for i, o := range k.Outages {
		out = append(out, knownItem{kind: knownOutage, from: o.From, to: o.To, outage: &k.Outages[i],
			say: v.Say("known.say.outage", "what", equipmentName(o.Kind, o.Code, v))})
	}
	for i, a := range k.Attention {
		item := knownItem{kind: knownAttention, from: a.From, to: a.To, attention: &k.Attention[i], say: v.Say("known.say.nobody")}
		if a.Starts > 0 {
			item.say = v.Say("known.say.attention", "n", a.Starts, "min", setup.Site.SlotMin, "usual", setup.Site.StartsPerSlot)
		}
		out = append(out, item)
	}
	name := drinkNames(setup.Drinks)
	for i, o := range k.OffSale {
		item := knownItem{kind: knownOffSale, from: o.From, open: o.To == nil, offSale: &k.OffSale[i], say: v.Say("known.say.off_sale", "drink", name(o.Drink))}
		if o.To != nil {
			item.to = *o.To
		}
		out = append(out, item)
	}
	out = append(out, datedHours(setup.Site, v)...)
	slices.SortStableFunc(out, func(a, b knownItem) int {
		return cmp.Or(a.from.Compare(b.from), cmp.Compare(a.kind, b.kind), cmp.Compare(a.say, b.say))
	})
	return out
}

func eventItem(e *models.Event, v voice) knownItem {
	item := knownItem{kind: knownEvent, from: e.From, to: e.To, event: e}
	switch {
	case e.Closed:
		item.kind, item.say = knownClosed, v.Say("known.say.closed")
		if e.Name != "" {
			item.say = v.Say("known.say.closed_for", "name", e.Name)
		}
		return item
	case e.Kind == models.HolidayKind:
		item.kind = knownHoliday
	}
	item.say = v.Say("known.say."+item.kind, "name", nameOr(e.Name, v.Say("known.no_name"))) + " "
	if e.Factor == 1 {
		item.say += v.Say("known.say.learnt")
	} else {
		item.say += v.Say("known.say.times", "factor", e.Factor)
	}
	return item
}

func datedHours(site models.Site, v voice) (out []knownItem) {
	loc := site.Location()
	for _, o := range site.Opening {
		if o.Date == nil {
			continue
		}
		from, to := o.Date.At(o.From.Minutes(), loc), o.Date.At(o.To.Minutes(), loc)
		if !to.After(from) {
			to = o.Date.AddDays(1).At(o.To.Minutes(), loc)
		}
		out = append(out, knownItem{kind: knownHours, from: from, to: to, say: v.Say("known.say.hours")})
	}
	return out
}

// spanInWords says when: "Saturday 11 July 12:00–18:00", or the days alone where they are whole.
func spanInWords(i knownItem, v voice) string {
	from := i.from.In(v.Location())
	if i.open {
		return v.Say("known.when.open", "from", momentInWords(from, v))
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
	return v.Say("known.when.days", "from", momentInWords(from, v), "to", momentInWords(to, v))
}

func momentInWords(t time.Time, v voice) string {
	return v.Say("known.when.at", "day", v.Day(t), "clock", v.Clock(t))
}
