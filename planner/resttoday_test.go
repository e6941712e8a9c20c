package planner

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// The weekend is planned on Friday at 15:00. Friday's own sales use ice and coffee that Saturday would otherwise find.
func TestSalesBeforeThePlanUseUpStockAndIce(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	o := Options{WithoutFixes: true, Budget: 100_000, Days: 200, PlanOnly: true}
	without, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	assert.Contains(t, without.Summary.Text, "The rest of Friday's sales isn't included.")

	friday := r.From.AddDays(-1)
	for _, d := range r.Demand {
		if d.Date == r.From {
			d.Date = friday
			r.Demand = append(r.Demand, d)
		}
	}
	with, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	assert.NotContains(t, with.Summary.Text, "The rest of Friday's sales")
	closing := r.From.At(0, r.Site.Location())
	ice := func(p models.Plan) (left float64) {
		for _, l := range p.Ice.Levels {
			if l.At.Before(closing) {
				left = l.G
			}
		}
		return left
	}
	assert.Less(t, ice(with), 0.9*ice(without))
	for _, d := range with.Demand {
		assert.NotEqual(t, friday, d.Date, "no row of the plan")
	}
	for _, d := range with.Water {
		assert.NotEqual(t, friday, d.Date, "no draw for Friday's parts")
	}
	for _, q := range with.Ice.Quotas {
		assert.NotEqual(t, friday, q.Date, "no quota for Friday's parts")
	}
	require.Len(t, with.Expected.Days, r.Days)
	assert.InEpsilon(t, without.Expected.Demanded, with.Expected.Demanded, 1e-3, "the same days")
	last := friday.At(20*60, r.Site.Location())
	for _, b := range with.Batches {
		assert.False(t, b.Ready.Before(last), "%s is ready at %s, to be sold on Friday", b.ID, b.Ready)
	}
	for _, w := range with.Warnings {
		if w.Kind == models.WarnIceShort || w.Kind == models.WarnBeverageShort {
			assert.False(t, w.At.Before(closing), "no warning of Friday's own sales: %s", w.Cause)
		}
	}
}

func TestRowsOfDaysBeforeNowAreRefused(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	today := r.Site.ServiceDayOf(r.Now)
	row := r.Demand[0]
	row.Date = today.AddDays(-1)
	r.Demand = append(r.Demand, row)
	err := r.Validate()
	require.Error(t, err)
	assert.Contains(t, err.Error(), string(today))
	r.Demand[len(r.Demand)-1].Date = today
	assert.NoError(t, r.Validate())
	r.Now = r.Now.Add(24 * time.Hour)
	assert.Error(t, r.Validate(), "Friday is over")
}
