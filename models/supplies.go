package models

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// SupplyNeed is what the planned drinks of a service day use of a supply, remakes included. Amount is in Unit, rounded up to whole g,
// mL or pieces; Packs are the whole packs that hold it.
type SupplyNeed struct {
	Date   Date    `json:"date"`
	Name   string  `json:"name"`
	Unit   string  `json:"unit"` // g, ml, piece
	Amount float64 `json:"amount"`
	Packs  int     `json:"packs"` // 0: sold loose, or the supply is not in the set-up

	StockAfter *float64   `json:"stock_after,omitempty"` // left of the counted stock after the day; absent where it was not counted
	Short      float64    `json:"short,omitzero"`        // missing on the day, beyond the counted stock
	OrderBy    *time.Time `json:"order_by,omitempty"`    // latest order that arrives in time; absent where there is no cut-off
	KeptIn     string     `json:"kept_in,omitempty"`
	Allergens  []string   `json:"allergens"`
}

// CareTask is the care of equipment that a clean task asks for.
type CareTask struct {
	Code string `json:"code"`
	Name string `json:"name"`
	Due  Date   `json:"due"` // when it became due: before the task's own day where it is overdue
}

// Milk is the name of the supply that milk_g of drinks counts as.
const Milk = "milk"

// milkGPerML is the density of cow's milk at 4 °C, g/mL; from memory.
const milkGPerML = 1.03

// SupplyKey is a supply's name as names are compared: without regard to case and outer spaces.
func SupplyKey(name string) string { return strings.ToLower(strings.TrimSpace(name)) }

// SupplyNamed returns the supply with a name, nil if it is not in the set-up.
func (s *Setup) SupplyNamed(name string) *Supply {
	for i := range s.Supplies {
		if SupplyKey(s.Supplies[i].Name) == SupplyKey(name) {
			return &s.Supplies[i]
		}
	}
	return nil
}

// ExtrasOf returns the supplies in a serving of a drink: its extras, and milk_g as milk where no extra is milk. Milk that the set-up
// counts in mL is in mL.
func (s *Setup) ExtrasOf(d *Drink) []Extra {
	out := slices.Clone(d.Extras)
	if d.MilkG <= 0 || slices.ContainsFunc(d.Extras, func(x Extra) bool { return SupplyKey(x.Name) == Milk }) {
		return out
	}
	x := Extra{Name: Milk, Amount: d.MilkG, Unit: "g"}
	if m := s.SupplyNamed(Milk); m != nil {
		x.Name = m.Name
		if m.Unit == "ml" {
			x.Unit, x.Amount = "ml", d.MilkG/milkGPerML
		}
	}
	return append(out, x)
}

// SupplyAllergens returns the allergens of a supply by name. Milk that names none contains milk: the unknown is not assumed safe.
func (s *Setup) SupplyAllergens(name string) []string {
	m := s.SupplyNamed(name)
	switch {
	case m != nil && len(m.Allergens) > 0:
		return allergenSet(m.Allergens)
	case SupplyKey(name) == Milk:
		return []string{Milk}
	}
	return []string{}
}

// AllergensOf returns the allergens of a drink, its own and those of its supplies, each once in alphabetical order.
func (s *Setup) AllergensOf(d *Drink) []string {
	all := slices.Clone(d.Allergens)
	for _, x := range s.ExtrasOf(d) {
		all = append(all, s.SupplyAllergens(x.Name)...)
	}
	return allergenSet(all)
}

// BeverageAllergens returns the allergens of all drinks that use a beverage, each once in alphabetical order. The beverage itself is
// coffee and water; it is the drinks made from it that contain them.
func (s *Setup) BeverageAllergens(code string) []string {
	var all []string
	for i := range s.Drinks {
		if d := &s.Drinks[i]; slices.ContainsFunc(d.Uses, func(u Use) bool { return u.Beverage == code }) {
			all = append(all, s.AllergensOf(d)...)
		}
	}
	return allergenSet(all)
}

// allergenSet sorts allergens and drops those that differ only in case or outer spaces. It is never nil.
func allergenSet(list []string) []string {
	out := make([]string, 0, len(list))
	for _, a := range list {
		out = append(out, strings.TrimSpace(a))
	}
	slices.SortStableFunc(out, func(a, b string) int { return cmp.Compare(strings.ToLower(a), strings.ToLower(b)) })
	return slices.CompactFunc(out, strings.EqualFold)
}

// PacksFor returns how many packs hold an amount, 0 for a supply that is sold loose.
func (s *Supply) PacksFor(amount float64) int { return wholeUnits(amount, s.Pack) }

// CasesFor returns how many cases hold a number of packs, 0 for a supply that is sold by the pack.
func (s *Supply) CasesFor(packs int) int { return wholeUnits(float64(packs), float64(s.CasePacks)) }

// wholeUnits returns how many units of a size hold an amount, allowing for rounding errors; 0 if the size is 0.
func wholeUnits(amount, size float64) int {
	if size <= 0 || amount <= 0 {
		return 0
	}
	n := int(amount / size)
	if float64(n)*size < amount*(1-1e-9) {
		n++
	}
	return n
}

// CutOff returns the latest instant to order a supply so that it is there on the morning of a date; ok is false where it can be bought
// at any time.
func (s *Supply) CutOff(d Date, loc *time.Location) (at time.Time, ok bool) {
	if s.OrderBy == "" {
		return time.Time{}, false
	}
	return d.AddDays(-s.LeadDays).At(s.OrderBy.Minutes(), loc), true
}

// supplies checks that the names of supplies are unique and that everything that uses one is in its unit.
func (c *checker) supplies(s *Setup) {
	type first struct{ unit, pointer string }
	units := map[string]first{}
	for i, x := range s.Supplies {
		at := fmt.Sprintf("/supplies/%d", i)
		if f, twice := units[SupplyKey(x.Name)]; twice {
			c.add(at+"/name", "a unique name", "%q is also the name of %s", x.Name, f.pointer)
			continue
		}
		units[SupplyKey(x.Name)] = first{x.Unit, at}
		if x.CasePacks > 0 && x.Pack == 0 {
			c.add(at+"/pack", "more than 0 where packs come in cases", "a case holds %d packs, and a pack holds nothing", x.CasePacks)
		}
	}
	for i := range s.Drinks {
		d := &s.Drinks[i]
		var own []string
		for k, x := range d.Extras {
			at, key := fmt.Sprintf("/drinks/%d/extras/%d", i, k), SupplyKey(x.Name)
			if slices.Contains(own, key) {
				c.add(at+"/name", "each supply once in a drink", "%q is listed twice", x.Name)
				continue
			}
			own = append(own, key)
			if f, known := units[key]; !known {
				units[key] = first{x.Unit, at}
			} else if f.unit != x.Unit {
				c.add(at+"/unit", f.unit+", the unit of "+f.pointer, "%s is counted in %s elsewhere, not in %s", x.Name, f.unit, x.Unit)
			}
		}
		if f, known := units[Milk]; known && f.unit == "piece" && d.MilkG > 0 && !slices.Contains(own, Milk) {
			c.add(fmt.Sprintf("/drinks/%d/milk_g", i), "0 with milk among its extras, or milk counted in g or ml", "milk is counted in pieces at %s", f.pointer)
		}
	}
}

// care checks that the codes of the care tasks are unique.
func (c *checker) care(list []Care) {
	unique(c, "/site/care", list, func(x Care) string { return x.Code })
}
