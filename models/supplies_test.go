package models

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestExtrasAgreeWithTheSuppliesOfTheSameName(t *testing.T) {
	t.Parallel()
	milk := Supply{Name: "Milk", Unit: "ml", Pack: 1000}
	for name, tc := range map[string]struct {
		change func(r *PlanRequest)
		want   []string
	}{
		"in the supply's unit":   {func(r *PlanRequest) { r.Drinks[0].Extras = []Extra{{Name: "milk", Amount: 80, Unit: "ml"}} }, nil},
		"in another unit":        {func(r *PlanRequest) { r.Drinks[0].Extras = []Extra{{Name: "milk ", Amount: 80, Unit: "g"}} }, []string{"/drinks/0/extras/0/unit"}},
		"not among the supplies": {func(r *PlanRequest) { r.Drinks[0].Extras = []Extra{{Name: "straw", Amount: 1, Unit: "piece"}} }, nil},
		"a supply listed twice":  {func(r *PlanRequest) { r.Supplies = append(r.Supplies, Supply{Name: "MILK", Unit: "ml"}) }, []string{"/supplies/1/name"}},
		"an extra listed twice": {func(r *PlanRequest) {
			x := Extra{Name: "milk", Amount: 80, Unit: "ml"}
			r.Drinks[0].Extras = []Extra{x, x}
		}, []string{"/drinks/0/extras/1/name"}},
		"two drinks, two units": {func(r *PlanRequest) {
			twoDrinks(r, Extra{Name: "syrup", Amount: 10, Unit: "g"}, Extra{Name: "Syrup", Amount: 10, Unit: "ml"})
		}, []string{"/drinks/1/extras/0/unit"}},
		"cases of packs of nothing":   {func(r *PlanRequest) { r.Supplies[0].Pack, r.Supplies[0].CasePacks = 0, 6 }, []string{"/supplies/0/pack"}},
		"milk_g of milk in pieces":    {func(r *PlanRequest) { r.Supplies[0].Unit, r.Drinks[0].MilkG = "piece", 80 }, []string{"/drinks/0/milk_g"}},
		"milk_g of milk in mL":        {func(r *PlanRequest) { r.Drinks[0].MilkG = 80 }, nil},
		"care with a code used twice": {func(r *PlanRequest) { r.Site.Care = []Care{{Code: "bin", At: "20:00"}, {Code: "bin", At: "21:00"}} }, []string{"/site/care/1/code"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := oneDay(t)
			r.Supplies = []Supply{milk}
			tc.change(&r)
			assert.Equal(t, tc.want, faults(t, r.Validate()))
		})
	}
}

// twoDrinks gives a request two drinks with an extra each.
func twoDrinks(r *PlanRequest, a, b Extra) {
	second := r.Drinks[0]
	second.Code = "second"
	r.Drinks = append(r.Drinks[:1:1], second)
	r.Drinks[0].Extras, r.Drinks[1].Extras = []Extra{a}, []Extra{b}
}

func TestMilkOfADrinkIsASupply(t *testing.T) {
	t.Parallel()
	d := Drink{MilkG: 206}
	s := Setup{}
	assert.Equal(t, []Extra{{Name: Milk, Amount: 206, Unit: "g"}}, s.ExtrasOf(&d))
	s.Supplies = []Supply{{Name: "Milk", Unit: "ml"}}
	got := s.ExtrasOf(&d)
	require.Len(t, got, 1)
	assert.Equal(t, "ml", got[0].Unit)
	assert.InDelta(t, 200, got[0].Amount, 1e-9, "1.03 g/mL")
	d.Extras = []Extra{{Name: "milk", Amount: 190, Unit: "ml"}}
	assert.Equal(t, d.Extras, s.ExtrasOf(&d), "an extra says it")
}

func TestAllergensOfADrinkAreItsOwnAndThoseOfItsSupplies(t *testing.T) {
	t.Parallel()
	s := Setup{Supplies: []Supply{{Name: "oat drink", Unit: "ml", Allergens: []string{"Gluten", "oats"}}, {Name: "tonic", Unit: "ml"}},
		Drinks: []Drink{
			{Code: "oat", Uses: []Use{{Beverage: "brew", G: 100}}, Extras: []Extra{{Name: "Oat drink", Amount: 100, Unit: "ml"}}, Allergens: []string{"nuts", "gluten"}},
			{Code: "milk", Uses: []Use{{Beverage: "brew", G: 100}}, MilkG: 80},
			{Code: "tonic", Uses: []Use{{Beverage: "other", G: 100}}, Extras: []Extra{{Name: "tonic", Amount: 100, Unit: "ml"}}},
		}}
	assert.Equal(t, []string{"gluten", "nuts", "oats"}, s.AllergensOf(&s.Drinks[0]))
	assert.Equal(t, []string{"milk"}, s.AllergensOf(&s.Drinks[1]), "milk without a word of it contains milk")
	assert.Equal(t, []string{"gluten", "milk", "nuts", "oats"}, s.BeverageAllergens("brew"))
	assert.Empty(t, s.BeverageAllergens("other"))
}

func TestPacksAndCasesAreWhole(t *testing.T) {
	t.Parallel()
	s := Supply{Pack: 1000, CasePacks: 6}
	for amount, want := range map[float64][2]int{0: {0, 0}, 1: {1, 1}, 1000: {1, 1}, 1000.1: {2, 1}, 6000: {6, 1}, 6001: {7, 2}, 3 * 1000 * (1 + 1e-12): {3, 1}} {
		packs := s.PacksFor(amount)
		assert.Equal(t, want, [2]int{packs, s.CasesFor(packs)}, "%g", amount)
	}
	loose := Supply{}
	assert.Equal(t, 0, loose.PacksFor(500))
	assert.Equal(t, 0, loose.CasesFor(5))
}

func TestTheCutOffIsLeadDaysBeforeTheDayOnTheLocalClock(t *testing.T) {
	t.Parallel()
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	s := Supply{OrderBy: "14:00", LeadDays: 2}
	at, ok := s.CutOff("2026-07-11", berlin)
	require.True(t, ok)
	assert.Equal(t, "2026-07-09T14:00:00+02:00", at.Format(time.RFC3339))
	_, ok = (&Supply{LeadDays: 2}).CutOff("2026-07-11", berlin)
	assert.False(t, ok)
}
